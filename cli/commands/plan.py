"""``rutwise plan``: from a block file to a folder with map, report and tables."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from cli.console import ExitCode, say, tell
from cli.options import BlockPath, OutFolder, Overwrite, StateOption

if TYPE_CHECKING:
    from terrain.decision.results import Plan

__all__ = ["plan", "plan_into"]


def plan(
    block: BlockPath,
    out: OutFolder,
    state: StateOption = None,
    overwrite: Overwrite = False,
) -> None:
    """Plan a block: which setups suit, where the trails force the choice, why others fall out.

    Writes map, report and tables into a folder. Refuses inputs that hold errors.

    Example: rutwise plan block.toml -o out
    """
    from terrain.outputs.folder import check_folder
    from terrain.plan import plan_block

    check_folder(out, overwrite=overwrite)
    made = plan_block(block, state=state, say=tell)
    plan_into(made, out, overwrite)


def plan_into(made: Plan, out: Path, overwrite: bool) -> None:
    """Write ``made`` into ``out``, say the answer, and end with code 3 when nothing suits."""
    from terrain.outputs.folder import write_outputs
    from terrain.outputs.wording import DEFERRAL

    tell("writing map, report and tables")
    written = write_outputs(made, out, overwrite=overwrite)
    for issue in made.issues:
        if issue.severity == "warning":
            tell(f"warning {issue.code}: {issue.what} [{issue.where}]")
    say(made.ranking.headline)
    say()
    for item in written:
        say(f"  {item.path}  {item.purpose}")
    say()
    say(DEFERRAL)
    if made.ranking.candidate is None:
        raise typer.Exit(ExitCode.NOTHING_SUITS)
