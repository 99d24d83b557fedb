"""``rutwise pack`` and ``rutwise open`` through the command line."""

from __future__ import annotations

import json
import os
import sys
import zipfile
from pathlib import Path

import pytest

from terrain.outputs.file_names import FILES
from terrain.outputs.wording import DEFERRAL, INVENTED
from tests.cli.run import rutwise

FIELD = [name for name in FILES if not name.endswith((".csv", ".json"))]


@pytest.fixture
def out(tmp_path: Path) -> Path:
    """Return a results folder with stand-ins: these tests are about packing and opening."""
    folder = tmp_path / "my block" / "out"
    folder.mkdir(parents=True)
    for name in FILES:
        (folder / name).write_text(f"this is {name}\n", encoding="utf-8")
    record = {
        "format": "rutwise plan 1",
        "block": "Block <b>9</b>\nsouth",
        "invented_note": INVENTED,
        "headline": "Chains on the rear bogie are the candidate.",
        "deferral": DEFERRAL,
    }
    (folder / "plan.json").write_text(json.dumps(record), encoding="utf-8")
    (folder / "private.txt").write_text("mine", encoding="utf-8")
    return folder


def test_pack_holds_the_field_files_and_says_what_to_open(out: Path) -> None:
    done = rutwise("pack", out)
    assert done.returncode == 0, done.stderr
    assert DEFERRAL in done.stdout
    with zipfile.ZipFile(out.parent / "out.zip") as archive:
        assert archive.testzip() is None
        assert sorted(archive.namelist()) == sorted(["README.txt", *FIELD])
        assert archive.read("map.html") == b"this is map.html\n"
        words = archive.read("README.txt").decode("utf-8")
    assert words.startswith("Block: Block <b>9</b> south\r\n")
    assert max(map(len, words.splitlines())) < 105  # a plain editor on a tablet does not fold lines
    said = " ".join(words.split())
    assert INVENTED in said
    assert DEFERRAL in said
    assert "Chains on the rear bogie are the candidate." in words
    assert "Nothing here needs a network" in words
    first, rest = words.split("For other programs:")
    assert "map.html" in first
    assert "report.html" in first
    for name in FIELD:
        assert f"  {name} " in first + rest, name
    assert "plan.json" not in words


def test_pack_gives_the_same_bytes_twice_whatever_the_times(out: Path, tmp_path: Path) -> None:
    assert rutwise("pack", out, "-o", tmp_path / "a.zip").returncode == 0
    for path in out.iterdir():
        os.utime(path, (1_000_000_000, 1_000_000_000))
        path.chmod(0o600)
    assert rutwise("pack", out, "-o", tmp_path / "b.zip").returncode == 0
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()
    with zipfile.ZipFile(tmp_path / "b.zip") as archive:
        assert {item.date_time for item in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert not list(tmp_path.glob(".*unfinished*"))


def test_pack_refuses_to_overwrite(out: Path) -> None:
    target = out.parent / "out.zip"
    with zipfile.ZipFile(target, "w") as archive:
        archive.writestr("precious.txt", "precious")
    before = target.read_bytes()
    refused = rutwise("pack", out)
    assert refused.returncode == 2
    assert "PCK02" in refused.stderr
    assert "--overwrite" in refused.stderr
    assert target.read_bytes() == before
    assert rutwise("pack", out, "--overwrite").returncode == 0
    with zipfile.ZipFile(target) as archive:
        assert "map.html" in archive.namelist()


@pytest.mark.parametrize("name", ["block.toml", "block.zip", "block.zip.toml", "block", "new.txt"])
def test_pack_replaces_no_file_but_a_zip(name: str, out: Path, tmp_path: Path) -> None:
    # source: own rule; --overwrite once put the zip in the place of a block file
    target = tmp_path / name
    if name != "new.txt":
        target.write_text('[block]\nname = "mine"\n')
    before = {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}
    for more in ([], ["--overwrite"]):
        refused = rutwise("pack", out, "-o", target, *more)
        assert refused.returncode == 2, more
        assert "PCK04" in refused.stderr
        fix = "move that one away" if name == "block.zip" else "ending in .zip"
        assert fix in refused.stderr
    assert {path: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()} == before


def test_pack_takes_a_zip_in_capitals(out: Path, tmp_path: Path) -> None:
    assert rutwise("pack", out, "-o", tmp_path / "A.ZIP").returncode == 0
    assert zipfile.is_zipfile(tmp_path / "A.ZIP")


def test_pack_names_what_is_missing_and_leaves_links_alone(out: Path, tmp_path: Path) -> None:
    (out / "map_geo.pdf").unlink()
    (out / "block.kml").unlink()
    (tmp_path / "secret.txt").write_text("secret")
    (out / "block.kml").symlink_to(tmp_path / "secret.txt")
    done = rutwise("pack", out)
    assert done.returncode == 0
    listed = done.stdout.split("Not in the folder")[1]
    assert "map_geo.pdf" in listed
    assert "block.kml" in listed
    with zipfile.ZipFile(out.parent / "out.zip") as archive:
        assert "block.kml" not in archive.namelist()
        assert "private.txt" not in archive.namelist()
        assert "map_geo.pdf" not in archive.read("README.txt").decode()


def test_pack_with_tables_holds_every_file(out: Path) -> None:
    assert rutwise("pack", out, "--tables").returncode == 0
    with zipfile.ZipFile(out.parent / "out.zip") as archive:
        assert sorted(archive.namelist()) == sorted(["README.txt", *FILES])


@pytest.mark.parametrize("content", [None, "{}", "[]", "no json", '{"format": "something else"}'])
def test_pack_refuses_a_folder_that_is_no_result(content: str | None, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    if content is not None:
        (tmp_path / "out" / "plan.json").write_text(content)
    done = rutwise("pack", tmp_path / "out")
    assert done.returncode == 2
    assert "PCK01" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out.zip").exists()


def test_pack_never_writes_over_a_result(out: Path, tmp_path: Path) -> None:
    before = (out / "map.html").read_bytes()
    done = rutwise("pack", out, "-o", out / "map.html", "--overwrite")
    assert done.returncode == 2
    assert "PCK03" in done.stderr
    assert (out / "map.html").read_bytes() == before
    assert "PCK03" in rutwise("pack", out, "-o", tmp_path / "no" / "a.zip").stderr
    assert "PCK02" in rutwise("pack", out, "-o", tmp_path, "--overwrite").stderr


# ---- open: the browser is replaced through the environment variable BROWSER ----


@pytest.fixture
def browser(tmp_path: Path) -> dict[str, str]:
    """Return an environment whose browser notes the address that it is given."""
    script = tmp_path / "note.py"
    script.write_text(
        "import pathlib, sys\n"
        f"with open({str(tmp_path / 'seen.txt')!r}, 'a') as seen: seen.write(sys.argv[1] + '\\n')\n"
    )
    return {"BROWSER": f"{sys.executable} {script} %s"}


def _seen(tmp_path: Path) -> list[str]:
    path = tmp_path / "seen.txt"
    return path.read_text().split() if path.exists() else []


@pytest.mark.parametrize(
    ("options", "pages"),
    [
        ((), ["map.html"]),
        (("--report",), ["report.html"]),
        (("--brief",), ["brief.html"]),
        (("--report", "--brief"), ["report.html", "brief.html"]),
    ],
)
def test_open_shows_the_page(
    options: tuple[str, ...],
    pages: list[str],
    out: Path,
    tmp_path: Path,
    browser: dict[str, str],
) -> None:
    (out / "brief.html").write_text("brief")
    done = rutwise("open", out, *options, **browser)
    assert done.returncode == 0, done.stderr
    assert _seen(tmp_path) == [(out / page).resolve().as_uri() for page in pages]
    assert "%20" in _seen(tmp_path)[0]  # the blank of the folder's name
    for page in pages:
        assert str(out / page) in done.stdout


def test_open_refuses_a_folder_without_the_page(
    out: Path, tmp_path: Path, browser: dict[str, str]
) -> None:
    (out / "map.html").unlink()
    done = rutwise("open", out, **browser)
    assert done.returncode == 2
    assert "OPN01" in done.stderr
    assert "map.html" in done.stderr
    assert rutwise("open", tmp_path / "nowhere", "--report", **browser).returncode == 2
    assert _seen(tmp_path) == []


def test_open_says_the_path_when_no_browser_works(out: Path) -> None:
    done = rutwise("open", out, BROWSER=f"{sys.executable} -c raise(SystemExit(1)) %s", PATH="")
    assert str(out / "map.html") in done.stdout
    assert done.returncode == 1
    assert "by hand" in done.stderr
    assert "Traceback" not in done.stderr
