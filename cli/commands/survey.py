"""``rutwise survey``: measured ruts against the site's rule and against the prediction."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.console import Format, print_rows, say, tell
from cli.options import FormatOption, StateOption

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["survey"]


def survey(
    file: Annotated[
        Path, typer.Argument(help="CSV or point layer of measured ruts.", show_default=False)
    ],
    block: Annotated[Path, typer.Option("--block", help="The block file.", show_default=False)],
    setup: Annotated[
        str | None, typer.Option(help="Setup that was driven; absent: the one the plan shows.")
    ] = None,
    state: StateOption = None,
    within: Annotated[
        float, typer.Option(help="Wanted accuracy of the share, a fraction: 0.05 is 5 points.")
    ] = 0.05,
    confidence: Annotated[float, typer.Option(help="Wanted confidence, a fraction.")] = 0.95,
    fmt: FormatOption = Format.TABLE,
) -> None:
    """Compare a survey of ruts with the rule and with what was predicted.

    Columns: trail and chainage_m, or x and y; depth_cm; if known length_m, rut_type (1, 2, 3) and
    when (before, after). JSON and CSV print the records.

    Example: rutwise survey ruts.csv --block block.toml
    """
    from terrain.decision.survey import compare_survey, sample_size
    from terrain.errors import Issue, RutwiseError, refuse_errors
    from terrain.inputs.survey import read_survey
    from terrain.outputs.wording import DEFERRAL, count
    from terrain.plan import check_block, make_plan

    for name, value in (("--within", within), ("--confidence", confidence)):
        if not 0 < value < 1:
            fix = "Give a fraction between 0 and 1, for example 0.05."
            refuse_errors([Issue("SVY05", "error", f"{name} is {value:g}.", "command line", fix)])
    tell("reading the inputs")
    loaded, network, found = check_block(block, state=state)
    refuse_errors(found)
    if loaded is None or network is None:  # cannot happen: without errors both are there
        raise RutwiseError("the block was not read, yet no error was found")
    measured, issues = read_survey(file, loaded.dem.crs)
    refuse_errors(issues)
    if measured is None:  # cannot happen: an unreadable survey is an error
        raise RutwiseError("the survey was not read, yet no error was found")
    result = compare_survey(make_plan(loaded, network, found, tell), measured, setup)
    for issue in (*issues, *result.issues):
        tell(f"{issue.severity} {issue.code}: {issue.what} [{issue.where}] {issue.fix}")
    if fmt is not Format.TABLE:
        plain = result.records.astype(object).where(result.records.notna(), None)
        print_rows(_rows(plain), list(plain.columns), fmt)
        return
    profile = loaded.rule_profile
    say(f"Rule: {profile.title if profile else 'none named'}")
    if profile:
        say(f"Depth is to be measured from: {profile.reference_surface}")
    records = count(len(result.records), "record")
    say(f"Surveyed: {result.surveyed_m:.0f} m in {records} after the harvest")
    if profile and 0 < result.judged_m < result.surveyed_m:
        left = result.surveyed_m - result.judged_m
        say(f"Not judged: {left:.0f} m, where the rule gives no depth")
    if result.judged_m > 0:
        say(
            f"Counts by the rule: {result.counts_m:.0f} m, {result.share:.1%} "
            f"({result.share_low:.1%} to {result.share_high:.1%} at 95 % over records)"
        )
    say(result.verdict)
    say()
    columns = ["class", "hit", "miss", "false_alarm", "not_predicted", "hit_m", "miss_m"]
    title = "Prediction (likely class) against survey"
    print_rows(_rows(result.classes), [*columns, "false_alarm_m"], fmt, title)
    table = result.before_after
    print_rows(_rows(table), list(table.columns), fmt, "Before and after")
    say(result.hint)
    points = f"{sample_size(within, confidence)} when nothing is known"
    if result.judged_m > 0:
        share = min(max(result.share, 0.01), 0.99)
        points += f", {sample_size(within, confidence, share)} with the share seen here"
    accuracy = f"within {within * 100:g} points at {confidence * 100:g} %"
    say(f"Points for the share to {accuracy}: {points}.")
    say(DEFERRAL)


def _rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    return [{str(k): v for k, v in row.items()} for row in frame.to_dict("records")]
