"""The verbs of the command line about camp reviews and family pages: parse, call, print."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from pipeline.errors import SummaryError
from pipeline.ingest.program import data_dir
from pipeline.summary.camp.issue import issue_review, review_of
from pipeline.summary.commands import Data, Who, console, user

Units = Annotated[str, typer.Option(help="us or metric")]
Paper = Annotated[str, typer.Option(help="letter or a4")]


def review(
    camp: Annotated[str, typer.Option(help="The camp's id.")],
    out: Annotated[Path, typer.Option(help="Folder for the files.")] = Path("reviews"),
    form: Annotated[str, typer.Option(help="Of pdf, csv, xlsx, separated by commas.")] = "pdf",
    measure: Annotated[str, typer.Option(help="The measure it is first about; else the most tested.")] = "",
    units: Units = "us",
    paper: Paper = "letter",
    by: Who = "",
    data: Data = None,
) -> None:
    """Make the one-page review of a camp: gains, single athletes, leavers, what a fair comparison allows to say."""
    root = data_dir(data)
    forms = tuple(dict.fromkeys(one.strip() for one in form.split(",") if one.strip()))
    made = issue_review(root, review_of(root, camp, _units(units), measure), by or user(), forms, paper)
    write_new(out, made)
    console.print(f"{len(made)} files in {out}; internal: for the program's staff only")


def _units(units: str) -> str:
    if units not in {"us", "metric"}:
        raise SummaryError(f"units {units!r} are not one of us, metric")
    return units


def write_new(out: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a folder; one already there is never written over."""
    try:
        out.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            with (out / name).open("xb") as stream:
                stream.write(content)
    except OSError as error:
        raise SummaryError(
            f"{out}: cannot be written ({error.strerror}); give another folder with --out"
        ) from error
