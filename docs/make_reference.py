"""Write the reference pages from the program's own registries: ``make docs``.

The pages are committed; a test holds them against what this script would write now.
"""

from __future__ import annotations

from pathlib import Path

from typer.testing import CliRunner

from cli.app import app
from cli.console import EXIT_CODES, NOTHING_SUITS_MEANS, ExitCode
from cli.topics import Topic, all_topics
from terrain.columns import TABLES

HERE = Path(__file__).parent / "reference"
NOTE = "<!-- Made by docs/make_reference.py from the program itself. Do not edit. -->\n\n"
RELATIONS_LEAD = (
    "Standing: *published* was read, often as quoted by others (see the sources); *derived*\n"
    "is worked out here from equilibrium or geometry; *from memory* and *planning assumption*\n"
    "are what they say. A check gives a worked value: arguments of the function, an arrow,\n"
    "its result, and in brackets where that comes from. *Own arithmetic* is done on the\n"
    "equation as it stands here, apart from the program, and a test holds the function to it."
)


def cell(text: str) -> str:
    """Make a text safe for a Markdown table cell."""
    return str(text).replace("|", "\\|").replace("\n", " ")


def columns_page() -> str:
    """Write every column of every table, with unit and what missing means."""
    lines = [NOTE + "# Columns of the tables", ""]
    for table, columns in TABLES.items():
        lines += [
            f"## {table}",
            "",
            "| column | unit | meaning | made by | when missing |",
            "|---|---|---|---|---|",
        ]
        lines += [
            f"| `{c.name}` | {c.unit} | {cell(c.meaning)} | `{c.made_by}` | {cell(c.missing)} |"
            for c in columns
        ]
        lines.append("")
    return "\n".join(lines)


def topics_page(title: str, kinds: tuple[str, ...], topics: list[Topic], lead: str = "") -> str:
    """Write all topics of some kinds, as ``rutwise explain`` tells them, after a lead."""
    lines = [NOTE + f"# {title}", ""]
    lines += [lead, ""] if lead else []
    for topic in topics:
        if topic.kind in kinds:
            lines += [f"## {topic.name}", "", topic.title, ""]
            lines += [f"- {label}: {text}" for label, text in topic.facts.items() if text]
            lines.append("")
    return "\n".join(lines)


def exit_code_lines() -> list[str]:
    """Tabulate the exit codes, with what "nothing suits" says in each command that uses it."""
    lines = ["## Exit codes", "", "| code | meaning |", "|---|---|"]
    for code, meaning in EXIT_CODES.items():
        if code == ExitCode.NOTHING_SUITS:
            said = [f"`{name}`: {words}" for name, words in NOTHING_SUITS_MEANS.items()]
            meaning = f"{meaning} {'; '.join(said)}."
        lines.append(f"| {code} | {cell(meaning)} |")
    return [*lines, ""]


def cli_page() -> str:
    """Write the exit codes and the help of every command."""
    runner = CliRunner(env={"COLUMNS": "80", "TERM": "dumb", "NO_COLOR": "1"})
    names = [command.name or command.callback.__name__ for command in app.registered_commands]
    lines = [NOTE + "# Commands", "", *exit_code_lines()]
    for arguments in ([], *([name] for name in names)):
        shown = runner.invoke(app, [*arguments, "--help"], prog_name="rutwise")
        lines += [f"## rutwise {' '.join(arguments)}".rstrip(), "", "```text"]
        lines += [line.rstrip() for line in shown.stdout.strip().splitlines()] + ["```", ""]
    return "\n".join(lines)


def pages() -> dict[str, str]:
    """Return every generated page by file name."""
    topics = all_topics()
    return {
        "columns.md": columns_page(),
        "cli.md": cli_page(),
        "rules.md": topics_page("Mounting and fit rules", ("rule",), topics),
        "relations.md": topics_page("Relations", ("relation",), topics, RELATIONS_LEAD),
        "effects.md": topics_page("What each aid changes", ("effect",), topics),
        "soil.md": topics_page(
            "Soil classes and moisture states",
            ("soil class", "moisture state", "soil rule"),
            topics,
        ),
        "sources.md": topics_page("Sources", ("source",), topics),
        "issue-codes.md": topics_page("Issue codes of the inputs", ("issue code",), topics),
    }


if __name__ == "__main__":
    HERE.mkdir(exist_ok=True)
    for name, text in pages().items():
        (HERE / name).write_text(text.rstrip() + "\n", encoding="utf-8")
