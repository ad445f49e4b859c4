"""The verbs of the command line about consent, summaries and erasure: parse, call, print."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
from rich.table import Table

from latewood.pipeline.care.erase import Decided, Erased, ErasureProposal, erase, propose
from latewood.pipeline.care.erase import finish as finish_erasure
from latewood.pipeline.cli.common import Data, Who, console, user
from latewood.pipeline.errors import ConsentError, LatewoodError, SummaryError
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import DEFAULT_DAYS, FIELDS, PURPOSES, RECRUITING, Consent
from latewood.pipeline.ingest.consent.stated import STATED
from latewood.pipeline.ingest.program import data_dir, load_program
from latewood.pipeline.pages.recruit import issue
from latewood.pipeline.pages.recruit.alone import check_alone, check_code
from latewood.pipeline.pages.recruit.code import read_code
from latewood.pipeline.pages.recruit.current import supersede_stated
from latewood.pipeline.pages.recruit.make import Choice
from latewood.pipeline.pages.recruit.verify import Verdict, verify, verify_code

consent_app = typer.Typer(no_args_is_help=True)
Purpose = Annotated[
    str,
    typer.Option(
        help=f"recruiting (a summary to be sent), family (the page for them), or a stated field: {', '.join(STATED)}."
    ),
]
Day = Annotated[datetime | None, typer.Option(formats=["%Y-%m-%d"], help="Else half a year on.")]
Names = Annotated[
    list[str] | None, typer.Argument(help="Ids of athletes, as `latewood athletes` names them.")
]


@consent_app.command("list")
def consent_list(
    missing: Annotated[bool, typer.Option("--missing", help="Only those without one that stands.")] = False,
    purpose: Purpose = RECRUITING,
    data: Data = None,
) -> None:
    """List for every athlete whether something may leave the program today, and if not, why."""
    root = data_dir(data)
    consents = consent_book.standing(root, purpose=_purpose(purpose))
    table = Table("athlete", "given by", "until", "measures", "projection", "stands")
    for athlete_id, why in consent_book.refusals(root, purpose).items():
        given = consents.by_athlete.get(athlete_id)
        if missing and not why:
            continue
        facts = ("", "", "", "")
        if given is not None:
            projection = "yes" if given.projection else "no"
            facts = (given.given_by, given.expires_on.isoformat(), ", ".join(given.measures), projection)
        table.add_row(athlete_id, *facts, why or "yes")
    console.print(table)


@consent_app.command("give")
def consent_give(
    athlete: str,
    given_by: Annotated[str, typer.Option(help="guardian, or athlete from 18 on")],
    measures: Annotated[str, typer.Option(help="Keys separated by commas, all, or none.")],
    fields: Annotated[
        str, typer.Option(help=f"Of {', '.join(FIELDS)}, separated by commas; all; none.")
    ] = "all",
    given_on: Annotated[datetime | None, typer.Option(formats=["%Y-%m-%d"], help="Else today.")] = None,
    expires_on: Annotated[
        datetime | None, typer.Option(formats=["%Y-%m-%d"], help="Else half a year on.")
    ] = None,
    projection: Annotated[bool, typer.Option(help="A projection may be shown.")] = False,
    photo: Annotated[bool, typer.Option(help="A photo may be shown.")] = False,
    name_shown: Annotated[str, typer.Option(help="The name to print, where it is another.")] = "",
    reference: Annotated[str, typer.Option(help="Where the signed form is kept.")] = "",
    purpose: Purpose = RECRUITING,
    by: Who = "",
    data: Data = None,
) -> None:
    """Record a consent from its signed form. A file once sent cannot be called back: say so before it is signed."""
    root = data_dir(data)
    begins = given_on.date() if given_on else load_program(root).today()
    until = expires_on.date() if expires_on else begins + timedelta(days=DEFAULT_DAYS)
    given = Consent(
        athlete_id=athlete, given_by=given_by, given_on=begins, expires_on=until, withdrawn_on=None,
        fields=FIELDS if fields == "all" else _listed(fields), measures=_listed(measures),
        photo=photo, projection=projection, name_shown=name_shown, reference=reference, import_id="", row_no=0,
        purpose=_purpose(purpose),
    )  # fmt: skip
    number = consent_book.record(root, given, by or user())
    why = consent_book.refusals(root, purpose)[athlete]
    console.print(f"recorded as import {number}; valid until {until}{f'; but {why}' if why else ''}")


@consent_app.command("state")
def consent_state(
    athlete: str,
    field: Annotated[str, typer.Option(help=f"One of {', '.join(STATED)}.")],
    text: Annotated[
        str, typer.Option(help="What the family wants printed, in their words; nothing of health.")
    ],
    given_by: Annotated[str, typer.Option(help="guardian, or athlete from 18 on")],
    until: Day = None,
    reference: Annotated[str, typer.Option(help="Where the signed form is kept.")] = "",
    by: Who = "",
    data: Data = None,
) -> None:
    """Record what the family states for the sheet, under a consent to that field alone, until a day.

    Every form marks it as stated by the family and not checked here. It counts only beside a consent to summaries.
    `latewood consent withdraw ATHLETE --purpose FIELD` takes it off again.
    """
    if field not in STATED:
        raise ConsentError(f"field {field!r} is not one of {', '.join(STATED)}")
    root = data_dir(data)
    today = load_program(root).today()
    end = until.date() if until else today + timedelta(days=DEFAULT_DAYS)
    given = Consent(
        athlete_id=athlete, given_by=given_by, given_on=today, expires_on=end, fields=(), measures=(), photo=False,
        projection=False, reference=reference, purpose=field, statement=" ".join(text.split()),
    )  # fmt: skip
    number = consent_book.record(root, given, by or user())
    marked = supersede_stated(root)
    why = consent_book.refusals(root)[athlete]
    only = f"; no sheet may be made yet: {why}" if why else ""
    console.print(f"recorded as import {number}; printed until {end}; {marked} issued pages superseded{only}")


def _purpose(purpose: str) -> str:
    if purpose not in PURPOSES:
        raise ConsentError(f"purpose {purpose!r} is not one of {', '.join(PURPOSES)}")
    return purpose


def _listed(text: str) -> tuple[str, ...]:
    words = tuple(w.strip() for w in text.split(",") if w.strip())
    return () if words == ("none",) else words


@consent_app.command("withdraw")
def consent_withdraw(athlete: str, purpose: Purpose = RECRUITING, by: Who = "", data: Data = None) -> None:
    """Withdraw a consent: new exports stop at once, and pages issued before are marked in the register."""
    root = data_dir(data)
    consent_book.withdraw(root, athlete, by or user(), _purpose(purpose))
    if purpose in STATED:
        marked = supersede_stated(root)
        console.print(
            f"withdrawn; {marked} issued pages superseded. Files already sent cannot be called back."
        )
        return
    marked = issue.mark_withdrawn(root)
    console.print(f"withdrawn; {marked} issued pages marked. Files already sent cannot be called back.")


def summary(
    athletes: Names = None,
    camp: Annotated[str, typer.Option(help="All athletes of a camp, by its id.")] = "",
    out: Annotated[Path, typer.Option(help="Folder for the files.")] = Path("summaries"),
    form: Annotated[
        str, typer.Option(help="Of pdf, html, json, csv and sig (a signature of the others), with commas.")
    ] = "pdf",
    measures: Annotated[
        str, typer.Option(help="Keys separated by commas; else all that are agreed to.")
    ] = "",
    units: Annotated[str, typer.Option(help="us or metric")] = "us",
    paper: Annotated[str, typer.Option(help="letter or a4")] = "letter",
    projection: Annotated[bool, typer.Option(help="Show projections where they are agreed to.")] = False,
    stated: Annotated[
        str, typer.Option(help=f"Of what the family states, {', '.join(STATED)}, with commas; all; none.")
    ] = "all",
    recipient: Annotated[
        str, typer.Option("--for", help="For whom, for your own register; printed nowhere.")
    ] = "",
    by: Who = "",
    data: Data = None,
) -> None:
    """Make recruiting summaries of athletes whose consent stands; the others are listed with the reason."""
    fields = None if stated == "all" else _listed(stated)
    choice = Choice(measures=_listed(measures), units=units, projection=projection, stated=fields)
    run = issue.open_run(data_dir(data), by or user(), choice, _listed(form), paper)
    run = replace(run, recipient=recipient)
    wanted = [*(athletes or []), *(issue.athletes_of_camp(run.record, camp) if camp else ())]
    if not wanted:
        raise LatewoodError("no athlete was named; give ids, or a camp with --camp")
    refused: list[issue.Refused] = []
    written = 0
    with _counting(len(wanted)) as progress:
        for result in issue.issue(run, list(dict.fromkeys(wanted)), progress):
            if isinstance(result, issue.Refused):
                refused.append(result)
            else:
                written += len(issue.write_files(out, result))
                refused += [
                    issue.Refused(athlete_id=result.athlete_id, name=result.name, why=f"no {form}: {why}")
                    for form, why in result.missing.items()
                ]
    console.print(f"{written} files in {out}")
    print_refused(refused)
    if refused and not written:
        raise ConsentError("no summary was made; the reasons stand above")


@contextmanager
def _counting(total: int) -> Iterator[issue.Progress]:
    columns = (TextColumn("summaries"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("summaries", total=total)
        yield lambda done, _: bar.update(task, completed=done)


def print_refused(refused: list[issue.Refused]) -> None:
    """The athletes without a sheet, each with the reason."""
    if refused:
        table = Table("athlete", "name", "refused because")
        for one in refused:
            table.add_row(one.athlete_id, one.name, one.why)
        console.print(table)


def verify_(
    file: Annotated[
        Path | None,
        typer.Argument(help="A PDF, HTML, JSON or CSV file of a summary; none to ask for a code alone."),
    ] = None,
    key: Annotated[
        str,
        typer.Option(
            help="Fingerprint of the program's key, received by another way: no data folder needed."
        ),
    ] = "",
    signature: Annotated[
        Path | None, typer.Option(help="With --key or --code: the .sig file; else the one beside.")
    ] = None,
    code: Annotated[str, typer.Option(help="What a camera read from the square code of a sheet.")] = "",
    data: Data = None,
) -> None:
    """Tell whether a summary is as issued, edited, withdrawn, superseded or expired; exit code 2 unless it is good.

    With --code and a file: is it the page that the code names; with --code alone: what became of that page.
    """
    verdict = _judged(file, key, signature, code, data)
    console.print(f"{verdict.state}: {verdict.words}")
    for difference in verdict.differences:
        console.print(f"  {difference}")
    if not verdict.good:
        raise typer.Exit(2)


def _judged(file: Path | None, key: str, signature: Path | None, code: str, data: Path | None) -> Verdict:
    scanned = read_code(code) if code else None
    if file is None:
        if scanned is None:
            raise LatewoodError(
                "nothing was given to verify; give a file, or --code with what the camera read"
            )
        return verify_code(data_dir(data), scanned)
    content, today = _content(file), datetime.now().astimezone().date()
    if not key and scanned is None:
        return verify(data_dir(data), file.name, content)
    beside = signature or file.with_suffix(".sig")
    signed = _content(beside) if signature is not None or beside.exists() else None
    if scanned is not None:
        if key and not scanned.fingerprint.startswith("".join(key.replace(":", "").split()).lower()):
            raise SummaryError("--key: the code names another key than this one")
        return check_code(file.name, content, signed, scanned, today)
    return check_alone(file.name, content, signed, key, today)


def _content(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise LatewoodError(f"{file}: cannot be read ({error.strerror}); check the path") from error


def erase_(
    athlete: Annotated[str, typer.Argument(help="The athlete's id.")] = "",
    yes: Annotated[bool, typer.Option("--yes", help="It cannot be undone; say so.")] = False,
    also: Annotated[list[str] | None, typer.Option(help="Key of what is theirs too; again for each.")] = None,
    spare: Annotated[
        list[str] | None, typer.Option(help="Key of what is not theirs; again for each.")
    ] = None,
    finish: Annotated[bool, typer.Option("--finish", help="Go on with an erasure that was stopped.")] = False,
    by: Who = "",
    data: Data = None,
) -> None:
    """Erase an athlete: rows, decisions, printed pages; build anew, then read every file. Without --yes it only shows.

    Example: latewood erase SL-001 --yes --also 1f0c22ab --spare 9be01d44
    """
    root = data_dir(data)
    if finish:
        done = finish_erasure(root)
        console.print("there is no erasure to be finished" if done is None else _sentence_of(done))
        return
    if not athlete:
        raise LatewoodError("no athlete was named; give an id, or --finish")
    if not yes:
        _print_proposal(propose(root, athlete))
        raise LatewoodError("an erasure cannot be undone; add --yes to do it")
    given = Decided(also=frozenset(also or ()), spare=frozenset(spare or ()))
    console.print(_sentence_of(erase(root, athlete, by or user(), given)))


def _print_proposal(found: ErasureProposal) -> None:
    rows = sum(len(one.theirs) for one in found.landed)
    console.print(f"{rows} rows in {len(found.files)} files are theirs and will be erased")
    if found.likely:
        table = Table("key", "score", "kind", "where", "says")
        for one in found.likely:
            table.add_row(one.key, f"{one.score:.0f}", one.kind, one.place, one.says)
        console.print("These may be theirs. Say for each --also KEY (it goes) or --spare KEY (it stays):")
        console.print(table)


def _sentence_of(done: Erased) -> str:
    return (
        f"{done.rows} rows erased in {done.files} files; {done.pages} of their pages and {done.superseded} pages of "
        "others are superseded; every file of the folder was read and none tells of them. Copies outside the folder "
        "and files already sent are not reached from here. "
        "Keep landing/erasures.jsonl beside your backups: a restore needs it to erase them again."
    )
