"""Reads the consents that stand now, and records one by form: a consents file of one row, landed like any other."""

from __future__ import annotations

import csv
import io
import secrets
import tempfile
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path

import duckdb

from latewood.pipeline.errors import ConsentError
from latewood.pipeline.ingest.actions import land_files
from latewood.pipeline.ingest.build.stage import open_import
from latewood.pipeline.ingest.consent import agreed, stated
from latewood.pipeline.ingest.consent.agreed import Consent, Consents, Unplaced
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.files.mapping import Mapping
from latewood.pipeline.ingest.files.reading import TextTable
from latewood.pipeline.ingest.inputs import Inputs, read_inputs
from latewood.pipeline.ingest.logs import decisions as decided
from latewood.pipeline.ingest.logs.joins import Join, Joins
from latewood.pipeline.ingest.people.joined import names_apart
from latewood.pipeline.ingest.people.records import Context, RowError
from latewood.pipeline.ingest.program import load_program, program_catalogue
from latewood.pipeline.warehouse.connection import open_published, read_sql

FORM = "[form "
_NEVER = 2**31  # a place in landing that no file has


def standing(root: Path, inputs: Inputs | None = None, purpose: str = agreed.RECRUITING) -> Consents:
    """Return the latest consent of every athlete to a purpose, straight from landing, without a build.

    Those to summaries carry the statements of the family whose own consents stand today.
    Raises NothingPublishedError where no build says who the athletes are.
    """
    known = inputs or read_inputs(root)
    withdrawn = decided.withdrawn_imports(list(known.decisions))
    with closing(open_published(root)) as connection:
        opened, context = _opened(connection, root, known)
        joins = _joins(connection, known)
    files = agreed.read_files(opened, context)
    result = agreed.latest(files, context, purpose, withdrawn, joins)
    if purpose != agreed.RECRUITING or not any(row["statement"] for file in files for row in file.good):
        return result
    fields = {one: agreed.latest(files, context, one, withdrawn, joins) for one in stated.STATED}
    return agreed.with_statements(result, fields, births(root), known.program.today())


def unplaced(root: Path) -> tuple[Unplaced, ...]:
    """Withdrawals of consent that fit nobody on the roster and that nobody has settled by rejecting the row.

    Those of files that were taken out count too. Raises NothingPublishedError as `standing` does.
    """
    known = read_inputs(root)
    rejected = {
        held.rpartition(":")[0]
        for (held, _), (action, _) in decided.row_decisions(list(known.decisions)).items()
        if action == "reject"
    }
    with closing(open_published(root)) as connection:
        opened, context = _opened(connection, root, known)
    return agreed.unplaced(opened, context, rejected)


def _joins(connection: duckdb.DuckDBPyConnection, known: Inputs) -> Joins:
    """The joins as they are now, and those that the published build still rests on: the strictest of both holds."""
    rows = connection.execute(read_sql("read/joined_ids.sql")).fetchall()
    now = known.joins
    built = {
        one: Join(joined_id=one, into=into, landed=_NEVER, at=known.program.now())
        for one, into in rows
        if one not in now.of and now.head(into) != one
    }
    return Joins(of={**built, **now.of})


def _opened(
    connection: duckdb.DuckDBPyConnection, root: Path, known: Inputs
) -> tuple[list[tuple[landing.Manifest, TextTable, Mapping]], Context]:
    """Every consents file, also those that were taken out, and the roster."""
    context = Context(
        athletes=names_apart(connection, known.joins), camps={}, catalogue=known.catalogue,
        time_zone=known.program.time_zone,
    )  # fmt: skip
    files = [(m, *open_import(root / "landing", m, known)) for m in known.imports if m.kind == agreed.KIND]
    return files, context


def births(root: Path) -> dict[str, date | None]:
    """The birth date of every athlete on the roster; used to judge a consent, never shown."""
    with closing(open_published(root)) as connection:
        return dict(connection.execute(read_sql("read/births.sql")).fetchall())


def refusals(root: Path, purpose: str = agreed.RECRUITING) -> dict[str, str]:
    """For every athlete on the roster why nothing may leave for this purpose today; '' where it may."""
    consents, today = standing(root, purpose=purpose), load_program(root).today()
    return {a: agreed.refusal(consents, a, birth, today) for a, birth in births(root).items()}


def record(root: Path, given: Consent, who: str) -> str:
    """Land a consent as a file of one row and return its import id; it counts at once.

    Raises ConsentError where it would not stand: unknown athlete, an athlete's own consent under 18, dates that
    do not fit.
    """
    known = births(root)
    if given.athlete_id not in known:
        raise ConsentError(f"athlete {given.athlete_id!r} is not on any roster; see `latewood athletes`")
    _check_readable(root, given)
    if given.purpose not in stated.STATED and not given.measures and not given.fields:
        raise ConsentError("the consent names nothing that may be shown; choose fields or measures")
    alone = Consents(by_athlete={given.athlete_id: given}, unreadable=frozenset())
    wrong = agreed.refusal(alone, given.athlete_id, known[given.athlete_id], given.given_on)
    if wrong and given.withdrawn_on is None:
        raise ConsentError(wrong)
    last = standing(root, purpose=given.purpose).by_athlete.get(given.athlete_id)
    if given.withdrawn_on is None and last and last.withdrawn_on and given.given_on < last.withdrawn_on:
        raise ConsentError(
            f"the consent was withdrawn on {last.withdrawn_on}, after the day on which this one was given; ask anew"
        )
    return _land(root, given, who)


def _check_readable(root: Path, given: Consent) -> None:
    """What the file will say must be read again as it is meant: a row that cannot be read lets nothing out."""
    program, catalogue = load_program(root), program_catalogue(root)
    context = Context(
        athletes={given.athlete_id: [given.athlete_id]}, camps={}, catalogue=catalogue, time_zone=program.time_zone
    )  # fmt: skip
    try:
        agreed.parse_row(agreed.consent_row(given), Mapping(kind=agreed.KIND), context)
    except RowError as error:
        raise ConsentError(str(error)) from error


def withdraw(root: Path, athlete_id: str, who: str, purpose: str = agreed.RECRUITING) -> str:
    """Record that the consent of an athlete to a purpose was withdrawn today; new exports stop at once.

    What the family stated is not written again.

    Raises ConsentError where there is none that stands.
    """
    consents = standing(root, purpose=purpose)
    last = consents.by_athlete.get(athlete_id)
    if last is None or last.withdrawn_on is not None:
        raise ConsentError(f"athlete {athlete_id!r} has no consent that could be withdrawn")
    gone = replace(last, withdrawn_on=load_program(root).today(), statement="")
    # Of every id of theirs: where a join is taken back later, none of them has a consent again.
    ids = read_inputs(root).joins.members(athlete_id)
    landed = [_land(root, replace(gone, athlete_id=one), who) for one in ids]
    return landed[0]


def _land(root: Path, given: Consent, who: str) -> str:
    # The form number keeps two forms with the same words apart: a consent given again is a new file.
    number = secrets.token_hex(4)
    kept = given.reference.split(FORM)[0].strip()
    row = agreed.consent_row(replace(given, reference=f"{kept} {FORM}{number}]".strip()))
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, fieldnames=list(row), lineterminator="\n")
    writer.writeheader()
    writer.writerow(row)
    with tempfile.TemporaryDirectory(prefix="latewood-consent-") as scratch:
        path = Path(scratch) / f"{landing.safe_name(f'consent form {number}')}.csv"
        path.write_text(text.getvalue(), encoding="utf-8")
        return land_files(root, [path], who, own_columns=True)[0].import_id
