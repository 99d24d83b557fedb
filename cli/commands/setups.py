"""``rutwise setups``: what a machine may carry, before any block is looked at."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cli.console import Format, print_rows, tell
from cli.options import FormatOption

__all__ = ["setups"]


def setups(
    machine: Annotated[Path, typer.Argument(help="The machine file (TOML).", show_default=False)],
    aids: Annotated[
        Path | None,
        typer.Option("--aids", help="Aid catalogue; absent: the shipped generic one."),
    ] = None,
    fmt: FormatOption = Format.TABLE,
) -> None:
    """List every setup of a machine with its standing, the rule behind it and the reason.

    Example: rutwise setups machine.toml --format csv
    """
    from terrain.errors import refuse_errors
    from terrain.inputs.aids import read_aids
    from terrain.inputs.machines import read_machine
    from terrain.outputs.wording import DEFERRAL
    from terrain.setups.combinations import describe
    from terrain.setups.rulebook import judge_all

    read, _, issues = read_machine(machine)
    catalogue, _, more = read_aids(aids)
    refuse_errors([*issues, *more])
    if read is None or catalogue is None:
        return
    short = fmt is Format.TABLE  # a terminal is narrow: the deciding reason alone
    judged = sorted(judge_all(read, catalogue), key=lambda pair: pair[1].standing)
    rows = [
        {
            "setup": setup.id,
            "carries": describe(setup, read),
            "standing": judgement.standing.words,
            "codes": judgement.codes[0] if short else ", ".join(judgement.codes),
            "reason": judgement.reasons[0] if short else " ".join(judgement.reasons),
        }
        for setup, judgement in judged
    ]
    columns = ("standing", "codes", "carries", "reason")
    print_rows(rows, columns if short else ("setup", *columns), fmt)
    tell(DEFERRAL)
