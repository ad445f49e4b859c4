"""The verbs that make a data folder and serve its screens: parse, call, print."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from latewood.pipeline.cli.common import Data, console
from latewood.pipeline.cli.serving import prepare as prepare_serving
from latewood.pipeline.cli.serving import run as run_serving
from latewood.pipeline.ingest.program import data_dir, prepare_folder


def init(data: Data = None) -> None:
    """Make a data folder with its default settings."""
    root = data_dir(data)
    prepare_folder(root)
    console.print(
        f"data folder {root}: put settings into program.toml, mappings into mappings/, then import files"
    )


def serve(
    port: Annotated[int, typer.Option(help="Port on this machine.")] = 8501,
    address: Annotated[
        str, typer.Option(help="Where to listen; other than this machine only with a sign-in.")
    ] = "127.0.0.1",
    secrets: Annotated[
        Path | None, typer.Option(help="The sign-in's secrets; else secrets.toml of the data folder.")
    ] = None,
    data: Data = None,
) -> None:
    """Serve the screens: on this machine, or behind a sign-in where one is configured (docs/serving.md)."""
    serving = prepare_serving(data_dir(data), address, port, secrets)
    for warning in serving.warnings:
        console.print(f"warning: {warning}")
    raise typer.Exit(run_serving(serving))
