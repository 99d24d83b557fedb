"""What must hold of the code itself: layers of words, docstrings, columns, docs in step."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

import terrain
from cli.app import app
from terrain.columns import TABLES

ROOT = Path(__file__).parents[1]
MODULES = sorted(
    info.name for info in pkgutil.walk_packages(terrain.__path__, "terrain.") if not info.ispkg
)
COMMANDS = [command.name or command.callback.__name__ for command in app.registered_commands]
UNITS = re.compile(
    r"\bm[23]?\b|\bmm\b|\bkg\b|\bkN\b|\bkPa\b|\bMJ\b|\bL\b|metre|ratio|percent|degree|share|fraction|"
    r"class|dimensionless|second|hour|cells?\b|number|tonne|km/h|psi|radian|litre|kilogram|points"
)
NUMBERS = (
    "Floats",
    "FloatGrid",
    "NDArray[np.float64]",
    "NDArray[np.float32]",
    "float",
    "pd.Series",
)
PHYSICS = ("terrain.mechanics", "terrain.surfaces", "terrain.stations", "terrain.units")


def public_functions(module_name):
    module = importlib.import_module(module_name)
    for name in getattr(module, "__all__", ()):
        thing = getattr(module, name)
        if inspect.isfunction(thing) and thing.__module__ == module_name:
            yield name, thing


@pytest.mark.parametrize("module_name", MODULES)
def test_every_module_names_its_public_things_and_explains_them(module_name):
    module = importlib.import_module(module_name)
    assert module.__doc__, f"{module_name} has no docstring"
    for name in module.__all__:
        thing = getattr(module, name)
        if inspect.isfunction(thing) or inspect.isclass(thing):
            assert inspect.getdoc(thing), f"{module_name}.{name} has no docstring"


@pytest.mark.parametrize("module_name", [m for m in MODULES if m.startswith(PHYSICS)])
def test_docstrings_of_physics_say_their_units(module_name):
    silent = [
        name
        for name, f in public_functions(module_name)
        if inspect.signature(f).return_annotation in NUMBERS and not UNITS.search(inspect.getdoc(f))
    ]
    assert not silent, f"{module_name}: no unit in the docstring of {silent}"


def test_modules_are_short():
    long = {
        path.relative_to(ROOT): n
        for folder in ("terrain", "cli")
        for path in (ROOT / folder).rglob("*.py")
        if (n := len(path.read_text(encoding="utf-8").splitlines())) > 400
    }
    assert not long


def test_columns_have_known_makers():
    for table in TABLES.values():
        names = [c.name for c in table]
        assert len(names) == len(set(names))
        for c in table:
            importlib.import_module(f"terrain.{c.made_by}")


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name):
    shown = CliRunner().invoke(app, [name, "--help"])
    assert shown.exit_code == 0
    assert "Example: rutwise " + name in shown.stdout


def test_reference_pages_are_current():
    sys.path.insert(0, str(ROOT / "docs"))
    try:
        make_reference = importlib.import_module("make_reference")
    finally:
        sys.path.pop(0)
    stale = [
        name
        for name, text in make_reference.pages().items()
        if (make_reference.HERE / name).read_text(encoding="utf-8") != text.rstrip() + "\n"
    ]
    assert not stale, f"run 'make docs': {stale}"


def test_help_loads_no_heavy_library():
    heavy = ("numpy", "pandas", "geopandas", "rasterio", "numba", "folium", "matplotlib", "scipy")
    code = (
        "import sys; sys.argv = ['rutwise', '--help']\n"
        "from cli.app import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print([m for m in {heavy!r} if m in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


FORBIDDEN = re.compile(
    r"(?i:py[p]i\.org|python[h]osted|registry\.[n]pmjs|deb\.[d]ebian|/hom[e]/|/roo[t]/)"
    r"|\bTO[D]O\b|\bFIX[M]E\b"
)


def test_no_registry_hosts_no_paths_of_a_machine_no_unfinished_work():
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode:
        pytest.skip("not a git checkout")
    found = []
    for name in listed.stdout.split("\0"):
        path = ROOT / name
        if path == Path(__file__) or not path.is_file():
            continue
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        found += [f"{name}: {m.group()}" for m in FORBIDDEN.finditer(text)]
    assert not found
