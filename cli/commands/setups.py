"""``rutwise setups``: what a machine may carry, before any block is looked at."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli.console import Format, print_issues_to_stderr, print_rows, tell
from cli.options import FormatOption

if TYPE_CHECKING:
    from terrain.models.aids import Aid
    from terrain.models.machine import Machine

__all__ = ["setups"]


def setups(
    machine: Annotated[Path, typer.Argument(help="The machine file (TOML).", show_default=False)],
    aids: Annotated[
        Path | None,
        typer.Option("--aids", help="Aid catalogue; absent: the shipped generic one."),
    ] = None,
    effects: Annotated[
        bool,
        typer.Option("--effects", help="List what each aid changes, with figure and standing."),
    ] = False,
    fmt: FormatOption = Format.TABLE,
) -> None:
    """List every setup of a machine with its standing, the rule behind it and the reason.

    Example: rutwise setups machine.toml --format csv
    """
    from terrain.decision.contact_checks import contact_issues
    from terrain.errors import refuse_errors
    from terrain.inputs.aids import read_aids
    from terrain.inputs.machines import read_machine
    from terrain.outputs.wording import DEFERRAL

    read, _, issues = read_machine(machine)
    catalogue, _, more = read_aids(aids)
    if read is not None and catalogue is not None:
        more = [*more, *contact_issues(read, catalogue, str(aids or "aids"))]
    refuse_errors([*issues, *more])
    if read is None or catalogue is None:
        return
    print_issues_to_stderr([*issues, *more])
    if effects:
        _list_effects(read, catalogue, fmt)
    else:
        _list_setups(read, catalogue, fmt)
    tell(DEFERRAL)


def _list_setups(machine: Machine, catalogue: tuple[Aid, ...], fmt: Format) -> None:
    from terrain.setups.combinations import describe
    from terrain.setups.rulebook import judge_all

    short = fmt is Format.TABLE  # a terminal is narrow: the deciding reason alone
    judged = sorted(judge_all(machine, catalogue), key=lambda pair: pair[1].standing)
    rows = [
        {
            "setup": setup.id,
            "carries": describe(setup, machine),
            "standing": judgement.standing.words,
            "codes": judgement.codes[0] if short else ", ".join(judgement.codes),
            "reason": judgement.reasons[0] if short else " ".join(judgement.reasons),
        }
        for setup, judgement in judged
    ]
    columns = ("standing", "codes", "carries", "reason")
    print_rows(rows, columns if short else ("setup", *columns), fmt)


def _list_effects(machine: Machine, catalogue: tuple[Aid, ...], fmt: Format) -> None:
    """Print the effects of the aids that are made for this machine."""
    from terrain.decision.aid_effects import effects_of_aids
    from terrain.mechanics.effects import TOLD
    from terrain.setups.combinations import split_catalogue

    table = effects_of_aids(split_catalogue(machine, catalogue).kept)
    rows = [{str(key): value for key, value in row.items()} for row in table.to_dict("records")]
    if fmt is not Format.TABLE:
        print_rows(rows, list(table.columns), fmt)
        return
    for row in rows:  # a terminal is narrow: the use in a word, one table an aid
        row |= {"figure": _figure(row), "use": TOLD if row["used_for"] == TOLD else "computed"}
    for key in dict.fromkeys(row["aid_key"] for row in rows):
        own = [row for row in rows if row["aid_key"] == key]
        print_rows(own, ("effect", "figure", "status", "use"), fmt, f"{own[0]['aid']} ({key})")


def _figure(row: dict) -> str:
    """Write value and range of one effect, or its direction where there is no figure."""
    value, low, high = (f"{row[key]:g}" for key in ("value", "low", "high"))
    spread = "" if low == "nan" else f"{low} to {high}"
    if value == "nan":
        return spread or row["direction"]
    return f"{value} ({spread})" if spread else value
