from __future__ import annotations

from pathlib import Path

import pytest

from terrain.decision.results import Plan
from terrain.errors import InputRefused
from terrain.outputs import folder
from terrain.outputs.folder import FILES, check_folder, write_outputs


@pytest.fixture(autouse=True)
def light(monkeypatch: pytest.MonkeyPatch) -> None:
    """Replace the heavy writers: these tests are about folders."""

    def write(plan: Plan, target: Path, *_: str) -> None:
        for name in FILES:
            (target / name).write_text("new")

    monkeypatch.setattr(folder, "_write_all", write)


def test_every_file_is_written_and_named(small_plan: Plan, tmp_path: Path) -> None:
    written = write_outputs(small_plan, tmp_path / "deep" / "out")
    assert [item.path.name for item in written] == list(FILES)
    assert all(item.path.is_file() and item.purpose for item in written)
    assert [path.name for path in (tmp_path / "deep").iterdir()] == ["out"]


def test_an_empty_folder_is_used(small_plan: Plan, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    write_outputs(small_plan, tmp_path / "out")
    assert (tmp_path / "out" / "map.html").is_file()


def test_a_full_folder_is_refused_and_left_alone(small_plan: Plan, tmp_path: Path) -> None:
    (tmp_path / "map.html").write_text("old")
    with pytest.raises(InputRefused) as refusal:
        write_outputs(small_plan, tmp_path)
    assert refusal.value.issues[0].code == "OUT01"
    assert (tmp_path / "map.html").read_text() == "old"
    assert len(list(tmp_path.iterdir())) == 1


def test_overwriting_keeps_foreign_files(small_plan: Plan, tmp_path: Path) -> None:
    (tmp_path / "map.html").write_text("old")
    (tmp_path / "notes.txt").write_text("mine")
    write_outputs(small_plan, tmp_path, overwrite=True)
    assert (tmp_path / "map.html").read_text() == "new"
    assert (tmp_path / "notes.txt").read_text() == "mine"


def test_a_link_is_replaced_not_followed(small_plan: Plan, tmp_path: Path) -> None:
    precious = tmp_path / "precious.txt"
    precious.write_text("mine")
    out = tmp_path / "out"
    out.mkdir()
    (out / "map.html").symlink_to(precious)
    write_outputs(small_plan, out, overwrite=True)
    assert precious.read_text() == "mine"
    assert (out / "map.html").read_text() == "new"


def test_a_failed_run_leaves_nothing(
    small_plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(plan: Plan, target: Path, *_: str) -> None:
        (target / "map.html").write_text("half")
        raise RuntimeError("disk full")

    monkeypatch.setattr(folder, "_write_all", fail)
    with pytest.raises(RuntimeError):
        write_outputs(small_plan, tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


def test_a_file_or_a_folder_in_the_way_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(InputRefused) as refusal:
        check_folder(tmp_path / "file")
    assert refusal.value.issues[0].code == "OUT02"
    (tmp_path / "out" / "map.html").mkdir(parents=True)
    with pytest.raises(InputRefused) as refusal:
        check_folder(tmp_path / "out", overwrite=True)
    assert refusal.value.issues[0].code == "OUT03"


def test_a_folder_that_cannot_be_made_is_refused_before_the_work(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    for wrong in (tmp_path / "file" / "out", tmp_path / ("a" * 300), tmp_path / ("b" * 250)):
        with pytest.raises(InputRefused) as refusal:
            check_folder(wrong)
        assert refusal.value.issues[0].code == "OUT05"
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


def test_looking_leaves_nothing_behind(tmp_path: Path) -> None:
    check_folder(tmp_path / "one" / "two")
    assert list(tmp_path.iterdir()) == []
    (tmp_path / "out").mkdir()
    check_folder(tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []
    (tmp_path / "link").symlink_to(tmp_path / "out" / "not yet")
    check_folder(tmp_path / "link")
    assert list((tmp_path / "out").iterdir()) == []


def test_a_folder_that_may_not_be_written_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # the tests may run as somebody who may write everywhere, so the refusal is made by hand
    def refuse(**_: object) -> str:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(folder.tempfile, "mkdtemp", refuse)
    with pytest.raises(InputRefused) as refusal:
        check_folder(tmp_path)
    (issue,) = refusal.value.issues
    assert issue.code == "OUT05"
    assert "Permission denied" in issue.what
