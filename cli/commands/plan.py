"""``rutwise plan``: from a block file to a folder with map, report and tables."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from cli.console import ExitCode, Format, print_rows, progress, say, tell
from cli.options import (
    BaseMapOption,
    BlockPath,
    Language,
    LanguageOption,
    OutFolder,
    Overwrite,
    StateOption,
    Units,
    UnitsOption,
)

if TYPE_CHECKING:
    from terrain.decision.results import Plan
    from terrain.outputs.shown_units import Shown

__all__ = ["plan", "plan_into"]


def plan(
    block: BlockPath,
    out: OutFolder,
    state: StateOption = None,
    units: UnitsOption = Units.METRIC,
    language: LanguageOption = Language.ENGLISH,
    overwrite: Overwrite = False,
    base_map: BaseMapOption = None,
) -> None:
    """Plan a block: which setups suit, where the trails force the choice, why others fall out.

    Writes map, report, the operator's page and files for GIS and GPS into a folder. Refuses inputs
    that hold errors, with exit code 2. When no usual setup suits, or too much is not known to tell,
    all files are written too, and the exit code is 3.

    Example: rutwise plan block.toml -o out --units us
    """
    from terrain.outputs.folder import check_base_map, check_folder

    check_folder(out, overwrite=overwrite)
    check_base_map(base_map)
    plan_into(block, out, overwrite, units, language, state, base_map)


def plan_into(
    block: Path,
    out: Path,
    overwrite: bool,
    units: Units,
    language: Language,
    state: str | None = None,
    base_map: str | None = None,
) -> None:
    """Plan ``block`` into ``out``, say the answer, and end with code 3 when no setup is named."""
    from terrain.outputs.folder import write_outputs
    from terrain.outputs.shown_units import shown_in
    from terrain.outputs.wording import DEFERRAL
    from terrain.plan import plan_block

    with progress() as stage:
        made = plan_block(block, state=state, say=stage)
        stage("writing map, report and tables")
        written = write_outputs(made, out, overwrite, units.value, language.value, base_map)
    for issue in made.issues:
        if issue.severity == "warning":
            tell(f"warning {issue.code}: {issue.what} [{issue.where}]")
    shown = shown_in(units.value)
    say(shown.sentence(made.ranking.headline))
    say()
    _print_setups(made, shown)
    say(f"Written to {out}:")
    for item in written:
        say(f"  {item.path.name:<20} {item.purpose}")
    say()
    say(DEFERRAL)
    if made.ranking.candidate is None:
        raise typer.Exit(ExitCode.NOTHING_SUITS)


def _print_setups(made: Plan, shown: Shown) -> None:
    """Print the setups of usual practice as a table of 80 columns."""
    from terrain.outputs.page_parts import USUAL

    table = made.ranking.setups
    rows = [
        {
            "setup": line["description"],
            "outcome": line["outcome"],
            "short": shown.length(line["short_m"]),
            "over bearing": shown.length(line["over_bearing_m"]),
            "aids": shown.mass(line["added_mass_kg"]),
        }
        for line in table[table["standing"] == USUAL].to_dict("records")
    ]
    columns = ("setup", "outcome", "short", "over bearing", "aids")
    print_rows(rows, columns, Format.TABLE, "Setups of usual practice")
