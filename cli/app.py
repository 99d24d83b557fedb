"""The ``rutwise`` command: one file per command, heavy imports inside them."""

from __future__ import annotations

import os
import sys
from typing import Annotated

import typer

from cli.commands.check import check
from cli.commands.demo import demo
from cli.commands.explain import explain
from cli.commands.fit import fit
from cli.commands.new import new
from cli.commands.open import open_results
from cli.commands.pack import pack
from cli.commands.plan import plan
from cli.commands.pressures import pressures
from cli.commands.rules import rules
from cli.commands.setups import setups
from cli.commands.survey import survey
from cli.commands.why import why
from cli.console import ExitCode, prepare_streams, print_issues_to_stderr, tell
from terrain import __version__
from terrain.errors import InputRefused, RutwiseError

__all__ = ["app", "main"]

app = typer.Typer(
    name="rutwise",
    help=(
        "Plan which traction aids a wheeled forest machine carries into a harvest block.\n\n"
        "Rutwise approves nothing: the manufacturer's approval, the site's rules, local codes and "
        "a competent person in the field decide.\n\n"
        "Start with: rutwise demo"
    ),
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    add_completion=False,
)
for command in (demo, new, check, plan, setups, why, explain, fit, pressures, rules, survey, pack):
    app.command()(command)
app.command("open")(open_results)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"rutwise {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help="Say the version."),
    ] = False,
) -> None:
    pass


def main() -> None:
    """Run the command line; bad input ends with words and exit code 2, never a traceback."""
    prepare_streams()
    try:
        app()
    except InputRefused as refusal:
        print_issues_to_stderr(refusal.issues)
        sys.exit(ExitCode.REFUSED)
    except RutwiseError as error:
        tell(f"rutwise: {error}")
        sys.exit(ExitCode.UNEXPECTED)
    except Exception as error:  # the last resort: say it plainly, show the trace only when asked
        if os.environ.get("RUTWISE_TRACE"):
            raise
        tell(f"rutwise: unexpected {type(error).__name__}: {error}")
        tell("This is a fault of the program. Set RUTWISE_TRACE=1 to see where it happened.")
        sys.exit(ExitCode.UNEXPECTED)
