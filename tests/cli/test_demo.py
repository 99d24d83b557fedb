"""The demonstration, from the checkout and from an installed wheel outside it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.cli.run import rutwise

ROOT = Path(__file__).parents[2]
WRITTEN = ("map.html", "report.html", "plan.json", "block.gpkg", "setups.csv", "stations.csv")


def test_demo_names_a_candidate_and_the_files_to_open(tmp_path):
    done = rutwise("demo", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "Candidate for the manufacturer's approval" in done.stdout
    assert "map.html" in done.stdout
    assert "approves nothing" in done.stdout
    for name in WRITTEN:
        assert (tmp_path / "rutwise-demo" / "results" / name).stat().st_size > 30
    again = rutwise("demo", cwd=tmp_path)
    assert again.returncode == 2
    assert "Traceback" not in again.stderr
    # the copied inputs can be planned again by hand
    block = tmp_path / "rutwise-demo" / "block" / "block.toml"
    assert rutwise("check", block).returncode == 0


@pytest.mark.parametrize("machine", ["skidder_6", "skidder_4"])
def test_the_other_invented_machines_run_too(machine, tmp_path):
    shutil.copytree(ROOT / "sample_data", tmp_path / "block")
    block = tmp_path / "block" / "block.toml"
    text = block.read_text(encoding="utf-8")
    assert "forwarder_8" in text
    block.write_text(text.replace("forwarder_8", machine), encoding="utf-8")
    done = rutwise("plan", block, "-o", tmp_path / "out")
    assert done.returncode in (0, 3), done.stderr
    excluded = (tmp_path / "out" / "excluded.csv").read_text(encoding="utf-8")
    setups = (tmp_path / "out" / "setups.csv").read_text(encoding="utf-8")
    if machine == "skidder_4":
        assert "band" not in setups  # two single axles: nothing for a band track to run on
    else:
        assert "MNT" in excluded


def test_demo_runs_from_a_wheel_outside_the_checkout(tmp_path):
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    (wheel,) = tmp_path.glob("rutwise-*.whl")
    site = tmp_path / "site"
    zipfile.ZipFile(wheel).extractall(site)
    code = "import terrain; print(terrain.__file__); from cli.app import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, "demo", "-o", "here"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": str(site)},
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert str(site) in done.stdout.splitlines()[0]
    assert (tmp_path / "here" / "results" / "map.html").exists()
