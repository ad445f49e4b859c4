"""What several commands share: options, the console, the steps of a long one."""

from __future__ import annotations

import getpass
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from latewood.pipeline.cli import report
from latewood.pipeline.cli.tidy import tidied

console = Console(highlight=False, markup=False, width=None if sys.stdout.isatty() else 160)
Data = Annotated[
    Path | None,
    typer.Option(
        "--data", callback=tidied, help="Data folder; else LATEWOOD_DATA, else a folder of your user."
    ),
]
Who = Annotated[str, typer.Option("--by", help="Who does it; written beside the action.")]
Build = Annotated[bool, typer.Option("--build/--no-build", help="Build afterwards.")]


def user() -> str:
    """The name of the person at the machine, as the system knows it."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "unknown"


@contextmanager
def steps() -> Iterator[report.Steps]:
    """Show the steps of a long command while it runs."""
    with console.status("starting", spinner="line") as status:
        yield report.Steps(show=status.update, keep=None if console.is_terminal else console.print)
