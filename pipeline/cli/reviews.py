"""The verbs of the command line about camp reviews and family pages: parse, call, print."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer
from rich.table import Table

from latewood.pipeline.cli.common import Data, Who, console, user
from latewood.pipeline.cli.summaries import Names
from latewood.pipeline.errors import ConsentError, LatewoodError, SummaryError
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.pages.camp.issue import ReviewFiles, issue_outside, issue_review, review_of
from latewood.pipeline.pages.case.issue import CaseOrder, issue_case
from latewood.pipeline.pages.family.issue import FamilyOrder, issue_family
from latewood.pipeline.pages.record import read_record
from latewood.pipeline.pages.recruit.issue import athletes_of_camp
from latewood.pipeline.pages.roster.make import issue_roster, read_roster
from latewood.pipeline.pages.years.issue import issue_years
from latewood.pipeline.pages.years.make import read_years

Units = Annotated[str, typer.Option(help="us or metric")]
Paper = Annotated[str, typer.Option(help="letter or a4")]
Form = Annotated[str, typer.Option(help="Of pdf, csv, xlsx, separated by commas.")]
Outside = Annotated[bool, typer.Option(help="For outsiders: nothing about fewer than 8 athletes.")]


def review(
    camp: Annotated[str, typer.Option(help="The camp's id.")],
    out: Annotated[Path, typer.Option(help="Folder for the files.")] = Path("reviews"),
    form: Form = "pdf",
    measure: Annotated[str, typer.Option(help="The measure it is first about; else the most tested.")] = "",
    units: Units = "us",
    paper: Paper = "letter",
    outside: Outside = False,
    by: Who = "",
    data: Data = None,
) -> None:
    """Make the one-page review of a camp: gains, single athletes, leavers, what a fair comparison allows to say."""
    root = data_dir(data)
    issue = issue_outside if outside else issue_review
    made = issue(root, review_of(root, camp, _units(units), measure), by or user(), _forms(form), paper)
    _hand_out(out, made, outside=outside)


def years_(
    camp: Annotated[list[str] | None, typer.Option(help="Only this camp; may be given again.")] = None,
    out: Annotated[Path, typer.Option(help="Folder for the files.")] = Path("years"),
    form: Form = "pdf",
    units: Units = "us",
    paper: Paper = "letter",
    outside: Outside = False,
    by: Who = "",
    data: Data = None,
) -> None:
    """Make one page of all camps: gains measured alike, leavers by reason, who came back, changes of method."""
    root = data_dir(data)
    years = read_years(root, _units(units), camp or (), outside=outside)
    _hand_out(out, issue_years(root, years, by or user(), _forms(form), paper), outside=outside)


def roster_(
    camp: Annotated[str, typer.Option(help="The camp's id.")],
    out: Annotated[Path, typer.Option(help="Folder for the files.")] = Path("rosters"),
    form: Annotated[str, typer.Option(help="Of pdf, xlsx, separated by commas.")] = "pdf",
    paper: Paper = "letter",
    by: Who = "",
    data: Data = None,
) -> None:
    """Make the roster of a camp with a box for each test day, to be printed."""
    root = data_dir(data)
    made = issue_roster(root, read_roster(root, camp), by or user(), _forms(form), paper)
    _hand_out(out, made, outside=False)


def _forms(form: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.strip() for one in form.split(",") if one.strip()))


def _hand_out(out: Path, made: ReviewFiles, *, outside: bool) -> None:
    """Write the files, and say which form could not be made and for whom they are."""
    write_new(out, made.files)
    for one, why in made.missing.items():
        console.print(f"no {one}: {why}", markup=False)
    whom = "internal: for the program's staff only"
    if outside:
        whom = "for outsiders: nobody and no group under 8 in it"
    console.print(f"{len(made.files)} files in {out}; {whom}")


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


def family(
    athletes: Names = None,
    camp: Annotated[str, typer.Option(help="All athletes of a camp, by its id.")] = "",
    out: Annotated[Path, typer.Option(help="Folder for the files.")] = Path("families"),
    form: Annotated[str, typer.Option(help="Of pdf, html, separated by commas.")] = "pdf",
    units: Units = "us",
    paper: Paper = "letter",
    by: Who = "",
    data: Data = None,
) -> None:
    """Make plain-language pages for athletes and their families, where a consent to that purpose stands."""
    root = data_dir(data)
    record = read_record(root)
    wanted = [*(athletes or []), *(athletes_of_camp(record, camp) if camp else ())]
    if not wanted:
        raise LatewoodError("no athlete was named; give ids, or a camp with --camp")
    order = FamilyOrder(forms=_forms(form), units=_units(units), paper=paper)
    written, refused = 0, Table("athlete", "refused because")
    for athlete in dict.fromkeys(wanted):
        try:
            made = issue_family(root, athlete, by or user(), order, record)
        except SummaryError as error:
            refused.add_row(athlete, str(error))
            continue
        write_new(out, made.files)
        written += len(made.files)
        for one, why in made.missing.items():
            refused.add_row(athlete, f"no {one}: {why}")
    console.print(f"{written} files in {out}")
    if refused.row_count:
        console.print(refused)
    if not written:
        raise ConsentError("no page was made; the reasons stand above")


def case(
    athlete: Annotated[str, typer.Argument(help="The athlete's id.")],
    stay: Annotated[str, typer.Option(help="The stay's id; else the latest stay.")] = "",
    for_family: Annotated[
        bool, typer.Option("--family", help="For the family: only where their consent stands.")
    ] = False,
    out: Annotated[Path, typer.Option(help="Folder for the file.")] = Path("cases"),
    units: Units = "us",
    paper: Paper = "letter",
    by: Who = "",
    data: Data = None,
) -> None:
    """Make the one-page case of a stay, from intake to exit: seen, worked on, changed, goes with mass, next."""
    order = CaseOrder(stay_id=stay, family=for_family, units=_units(units), paper=paper)
    made = issue_case(data_dir(data), athlete, by or user(), order)
    write_new(out, made)
    whom = (
        "for the athlete and the family, nobody else"
        if for_family
        else "internal: for the program's staff only"
    )
    console.print(f"{len(made)} file in {out}; {whom}", markup=False)
