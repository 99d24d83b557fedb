"""``rutwise why``: one verdict walked back to its inputs."""

from __future__ import annotations

import math
from typing import Annotated

import typer

from cli.console import Format, print_rows, progress, say
from cli.options import BlockPath, FormatOption, StateOption

__all__ = ["why"]


def why(
    block: BlockPath,
    trail: Annotated[str, typer.Option("--trail", "-t", help="Trail to look at.")],
    setup: Annotated[
        str | None,
        typer.Option("--setup", "-s", help="Setup (as listed); absent: the one that is shown."),
    ] = None,
    at: Annotated[
        float | None,
        typer.Option("--at", help="Metres along the trail as drawn; absent: the worst place."),
    ] = None,
    state: StateOption = None,
    fmt: FormatOption = Format.TABLE,
) -> None:
    """Walk one verdict back: verdict, trail, stretch, place, ground, machine, equations, sources.

    Example: rutwise why block.toml --trail T7 --setup bare
    """
    from terrain.decision.walk import equations_of, walk_back
    from terrain.errors import refuse_errors
    from terrain.outputs.wording import DEFERRAL, slope_words
    from terrain.plan import check_block, look_at
    from terrain.sources import source

    with progress() as tell_stage:
        loaded, network, issues = check_block(block, state=state)
        refuse_errors(issues)
        assert loaded is not None
        assert network is not None
        steps = walk_back(look_at(loaded, network, tell_stage), trail, setup, at)

    def shown(value: float | str, unit: str) -> str:
        if isinstance(value, str):
            return value
        if not math.isfinite(value):
            return "not known"
        if unit == "slope":
            value = round(value, 4) + 0.0  # no sign on a zero
            return f"{value:.4f}, that is {slope_words(value)}"
        digits = {"kg": 0, "m": 2, "kN": 2, "kPa": 1}.get(unit, 3)
        return f"{value:,.{digits}f} {'' if unit == 'ratio' else unit}".rstrip()

    if fmt is not Format.TABLE:
        rows = [
            {
                "step": number,
                "title": step.title,
                "figure": figure.name,
                "value": figure.value,
                "unit": figure.unit,
                "relations": " ".join(step.relations),
            }
            for number, step in enumerate(steps, start=1)
            for figure in step.figures
        ]
        print_rows(rows, list(rows[0]), fmt)
        return
    for number, step in enumerate(steps, start=1):
        say(f"{number}. {step.title}")
        _paragraph(step.text)
        for figure in step.figures:
            _paragraph(shown(figure.value, figure.unit), f"     {figure.name:<42} ")
        for title, equation, status, key in equations_of(step):
            cited = source(key).citation if key else "own rule"
            _paragraph(f"{title}: {equation} [{status}; {cited}]", "     = ")
        if step.status:
            say(f"     standing: {step.status}")
        say()
    _paragraph(DEFERRAL, "")


def _paragraph(text: str, start: str = "   ") -> None:
    from textwrap import fill

    say(fill(text, 80, initial_indent=start, subsequent_indent=" " * len(start)))
