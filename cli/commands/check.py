"""``rutwise check``: every problem of a block's inputs at once."""

from __future__ import annotations

import typer

from cli.console import ExitCode, Format, print_issues, tell
from cli.options import BlockPath, FormatOption, StateOption

__all__ = ["check"]


def check(block: BlockPath, state: StateOption = None, fmt: FormatOption = Format.TABLE) -> None:
    """List every problem of a block's inputs: what is wrong, where, and how to fix it.

    Example: rutwise check block.toml
    """
    from terrain.errors import errors_in
    from terrain.plan import check_block

    loaded, _, issues = check_block(block, state=state)
    print_issues(issues, fmt)
    errors = len(errors_in(issues))
    warnings = sum(issue.severity == "warning" for issue in issues)
    notes = len(issues) - errors - warnings
    tell(f"errors: {errors}, warnings: {warnings}, notes: {notes}.")
    if loaded is not None and not errors:
        metres = loaded.trails.length.sum()
        tell(f"{len(loaded.trails)} trails, {metres:.0f} m; the block can be planned.")
    if errors:
        raise typer.Exit(ExitCode.REFUSED)
