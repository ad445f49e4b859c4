"""What the Summaries screen does to the program: preview, issue and consent. No page leaves without a consent."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from latewood.dashboard.actions import rights
from latewood.dashboard.reads import rows
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import Consent, refusal
from latewood.pipeline.ingest.consent.stated import LABELS, STATED
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.pages.handout import Handout
from latewood.pipeline.pages.recruit import issue
from latewood.pipeline.pages.recruit.current import supersede_stated
from latewood.pipeline.pages.recruit.make import MOST, Choice, allowed
from latewood.pipeline.pages.recruit.pdf import render_pictures
from latewood.pipeline.pages.recruit.sheets import SheetOut, issue_again, sheets_out


@dataclass(frozen=True, slots=True, kw_only=True)
class SummaryDesk:
    """What the screen knows of one athlete before anything is issued."""

    why_not: str
    consent: Consent | None
    measures: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Export:
    """What was issued: one file to hand out, and those refused with the reason."""

    file_name: str
    content: bytes
    n: int
    refused: tuple[tuple[str, str], ...]


def desk(build: rows.Build, athlete_id: str) -> SummaryDesk:
    """The consent of an athlete as it stands now, and the measures it covers."""
    rights.may(build, "consent", (athlete_id,))
    run = issue.open_run(data_dir(), "")
    consents = consent_book.standing(data_dir())
    known = run.record.athletes[athlete_id]
    consent = consents.by_athlete.get(athlete_id)
    why = refusal(consents, athlete_id, known.birth_date, run.record.today)
    covered = allowed(run.record, athlete_id, consent) if consent and not why else ()
    return SummaryDesk(why_not=why, consent=consent, measures=covered[: 2 * MOST])


def pictures(build: rows.Build, athlete_id: str, choice: Choice, paper: str) -> tuple[tuple[bytes, ...], str]:
    """The sheets as pictures, and their words; raises SummaryError without a consent that stands."""
    rights.may(build, "export", (athlete_id,))
    run = issue.open_run(data_dir(), "", choice, paper=paper)
    page = issue.preview(run, consent_book.standing(data_dir()), athlete_id)
    return render_pictures(page, run.record.today, paper), f"{page.kind} of {page.name}. {page.shown}"


def export(
    build: rows.Build, athlete_ids: Sequence[str], who: str, choice: Choice, handout: Handout
) -> Export:
    """Issue pages and pack their files: one file as it is, several as an archive."""
    viewer = rights.may(build, "export", athlete_ids)
    run = issue.open_run(data_dir(), viewer.signs(who), choice, handout.forms, handout.paper)
    return _export(issue.issue(replace(run, recipient=handout.recipient), athlete_ids))


def register_rows(build: rows.Build) -> tuple[SheetOut, ...]:
    """The sheets that are out of those athletes for whom the viewer may issue; erased ones for whoever may for all."""
    rights.may(build, "export")
    sheets = sheets_out(data_dir())
    mine = rights.covered(build, "export", {one.athlete_id for one in sheets})  # '' (erased) is in no camp
    return tuple(one for one in sheets if one.athlete_id in mine)


def export_again(build: rows.Build, who: str) -> Export:
    """Issue all superseded sheets of `register_rows` anew; each consent is asked again."""
    viewer = rights.may(build, "export")
    mine = {one.athlete_id for one in register_rows(build)}
    return _export(issue_again(data_dir(), viewer.signs(who), mine))


def _export(results: Iterable[issue.Issued | issue.Refused]) -> Export:
    files: dict[str, bytes] = {}
    refused: list[tuple[str, str]] = []
    n = 0
    for result in results:
        if isinstance(result, issue.Refused):
            refused.append((result.name, result.why))
        else:
            files |= result.files
            refused += [(result.name, f"no {form}: {why}") for form, why in result.missing.items()]
            n += 1
    name, content = _packed(files) if files else ("", b"")
    return Export(file_name=name, content=content, n=n, refused=tuple(refused))


def _packed(files: dict[str, bytes]) -> tuple[str, bytes]:
    if len(files) == 1:
        return next(iter(files.items()))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return "summaries.zip", out.getvalue()


def give_consent(build: rows.Build, given: Consent, who: str) -> str:
    """Record a consent; it counts at once. Raises ConsentError."""
    viewer = rights.may(build, "consent", (given.athlete_id,))
    consent_book.record(data_dir(), given, viewer.signs(who))
    marked = supersede_stated(data_dir()) if given.purpose in STATED else 0
    sheets = f" Sheets superseded: {marked}." if marked else ""
    return f"Consent recorded, until {given.expires_on.isoformat()}.{sheets}"


def withdraw_statement(build: rows.Build, athlete_id: str, field: str, who: str) -> str:
    """Take back what the family states in one field; sheets that print it are superseded. Raises ConsentError."""
    viewer = rights.may(build, "consent", (athlete_id,))
    consent_book.withdraw(data_dir(), athlete_id, viewer.signs(who), field)
    marked = supersede_stated(data_dir())
    return (
        f"{LABELS[field]} withdrawn. Sheets superseded: {marked}. Files already sent cannot be called back."
    )


def withdraw_consent(build: rows.Build, athlete_id: str, who: str) -> str:
    """Withdraw a consent at once and mark the pages issued under it. Raises ConsentError."""
    viewer = rights.may(build, "consent", (athlete_id,))
    consent_book.withdraw(data_dir(), athlete_id, viewer.signs(who))
    marked = issue.mark_withdrawn(data_dir())
    return (
        f"Consent withdrawn. Pages marked as withdrawn: {marked}. Files already sent cannot be called back."
    )
