"""What the command prints survives any encoding of stdout, and the exit codes are told.

Source of the encodings: common practice, no source: those of Western Windows (a pipe, a console)
and the plainest of all.
"""

from __future__ import annotations

import csv
import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from cli.console import EXIT_CODES, NOTHING_SUITS_MEANS, ExitCode
from cli.topics import all_topics

ROOT = Path(__file__).parents[2]
ENCODINGS = ("cp1252", "cp437", "ascii", "cp932", "utf-8", "")


def printed(encoding: str, *words: str) -> tuple[bytes, str]:
    """Stdout as bytes and stderr of ``rutwise``; ``encoding`` empty: nothing is asked for."""
    clean = {k: v for k, v in os.environ.items() if k not in ("PYTHONIOENCODING", "PYTHONUTF8")}
    asked = {"PYTHONIOENCODING": encoding} if encoding else {}
    done = subprocess.run(
        [sys.executable, "-c", "from cli.app import main; main()", *words],
        capture_output=True,
        env={**clean, **asked},
        stdin=subprocess.DEVNULL,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout, done.stderr.decode("ascii")  # what ascii lacks is escaped


def titles() -> list[str]:
    return [topic.title for topic in all_topics()]


def test_the_topics_hold_letters_that_the_encodings_lack() -> None:
    text = "".join(str(topic.facts) + topic.title for topic in all_topics())
    for encoding in ("cp1252", "cp437", "ascii"):
        with pytest.raises(UnicodeEncodeError):
            text.encode(encoding)


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_json_holds_every_letter_in_any_encoding(encoding: str) -> None:
    out, said = printed(encoding, "explain", "--format", "json")
    rows = json.loads(out.decode("utf-8"))
    assert [row["title"] for row in rows] == titles()
    assert said == ""


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_csv_is_whole_and_says_what_is_lost(encoding: str) -> None:
    out, said = printed(encoding, "explain", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(out.decode(encoding or "utf-8"), newline="")))
    name = encoding or "utf-8"
    assert [row["title"] for row in rows] == [
        title.encode(name, "replace").decode(name) for title in titles()
    ]
    assert ("set PYTHONIOENCODING=utf-8" in said) == (name != "utf-8")
    assert all(None not in row for row in rows)  # no row has more cells than the head


@pytest.mark.parametrize("encoding", ENCODINGS)
@pytest.mark.parametrize("words", [("explain",), ("explain", "slope"), ("--help",)])
def test_text_is_never_cut(encoding: str, words: tuple[str, ...]) -> None:
    whole, _ = printed("utf-8", *words)
    out, _ = printed(encoding, *words)
    got, wanted = out.decode(encoding or "utf-8"), whole.decode("utf-8")
    assert len(got.splitlines()) == len(wanted.splitlines())
    # letters alone: the rules of a table are drawn with other signs where these are lacking
    assert re.findall("[A-Za-z0-9]+", got) == re.findall("[A-Za-z0-9]+", wanted)


def test_a_pipe_in_the_computers_own_encoding_gets_utf8() -> None:
    # stdout as Windows opens it for a pipe when nobody asks for an encoding
    code = (
        "import io, sys\n"
        "sys.stdout = io.TextIOWrapper(sys.stdout.buffer, encoding='cp1252')\n"
        "from cli.console import prepare_streams, say\n"
        "prepare_streams()\n"
        "say('\\u2265 5 %')\n"
    )
    clean = {k: v for k, v in os.environ.items() if k != "PYTHONIOENCODING"}
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, env=clean, check=True)
    assert out.stdout.decode("utf-8").split() == ["\u2265", "5", "%"]


def test_a_terminal_keeps_its_encoding(monkeypatch) -> None:
    from cli.console import prepare_streams

    class Terminal(io.TextIOWrapper):
        def isatty(self) -> bool:
            return True

    monkeypatch.delenv("PYTHONIOENCODING", raising=False)
    out, err = (Terminal(io.BytesIO(), encoding="cp437") for _ in range(2))
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setattr(sys, "stderr", err)
    prepare_streams()
    assert (out.encoding, out.errors) == ("cp437", "replace")
    assert (err.encoding, err.errors) == ("cp437", "backslashreplace")
    monkeypatch.setattr(sys, "stdout", None)
    prepare_streams()


def test_every_command_with_code_3_says_what_it_means() -> None:
    told = set(NOTHING_SUITS_MEANS)
    users = {
        path.stem
        for path in (ROOT / "cli" / "commands").glob("*.py")
        if re.search(r"NOTHING_SUITS|\bplan_into\(", path.read_text(encoding="utf-8"))
    }
    assert told == users
    codes = {v for k, v in vars(ExitCode).items() if k.isupper()}
    assert set(EXIT_CODES) == codes


def test_the_reference_page_begins_with_the_exit_codes() -> None:
    page = (ROOT / "docs" / "reference" / "cli.md").read_text(encoding="utf-8")
    head, _ = page.split("## rutwise\n")
    assert "## Exit codes" in head
    assert re.findall(r"^\| (\d+) \|", head, re.MULTILINE) == ["0", "1", "2", "3", "130"]
    row = next(line for line in head.splitlines() if line.startswith("| 3 |"))
    assert [name for name in NOTHING_SUITS_MEANS if f"`{name}`: " not in row] == []
