"""The command line: one verb for each thing a data steward does. It parses, calls and prints."""

from __future__ import annotations

import gc
import sys
from typing import Annotated

import typer
from rich.console import Console

from latewood.pipeline.cli.lazy import LazyGroup
from latewood.pipeline.cli.start import version_line
from latewood.pipeline.errors import LatewoodError

app = typer.Typer(cls=LazyGroup, no_args_is_help=True, pretty_exceptions_enable=False)


def _tell_version(asked: bool) -> None:
    if asked:
        typer.echo(version_line())
        raise typer.Exit


@app.callback()
def latewood(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_tell_version, is_eager=True, help="Tell the version and stop."),
    ] = False,
) -> None:
    """Latewood: what changed between test days, how sure that is, and what it goes with."""


def main() -> None:
    """Run the command line: errors made on purpose are one line and exit code 2."""
    try:
        app(standalone_mode=True)
    except LatewoodError as error:
        Console(stderr=True, highlight=False, soft_wrap=True).print(f"latewood: {error}", markup=False)
        sys.exit(2)
    finally:
        gc.freeze()  # what a command leaves is not gone through once more on the way out
