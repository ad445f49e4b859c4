"""Consent by purpose (a summary, a line stated on it, a page for the family): what was agreed, and does it stand.

Consents are rows of landed files, one latest row an athlete and purpose. They are read from landing each time
something is to leave the program, not from the last build: a withdrawal counts from the moment it is recorded.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from collections.abc import Mapping as MappingOf
from dataclasses import dataclass, replace
from datetime import date, timedelta

from rapidfuzz import fuzz

from latewood.pipeline.catalogue.lookup import find_measure
from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.ingest.consent.stated import STATED as STATED_FIELDS
from latewood.pipeline.ingest.consent.stated import Statement, problem_of
from latewood.pipeline.ingest.files.landing import Manifest
from latewood.pipeline.ingest.files.mapping import Mapping
from latewood.pipeline.ingest.files.reading import TextTable
from latewood.pipeline.ingest.logs.joins import NONE as NOBODY_JOINED
from latewood.pipeline.ingest.logs.joins import Joins
from latewood.pipeline.ingest.logs.standing import STATED
from latewood.pipeline.ingest.people.records import (
    Context,
    Problem,
    Record,
    RowError,
    athlete_of,
    day_of,
    landed,
    needed_text,
    one_of,
    read_people,
)
from latewood.pipeline.warehouse.lookups import plain_name

KIND = "consents"
ADULT = 18
ALIKE = 80.0  # of 100: from here two spellings may be one name
DEFAULT_DAYS = 183  # half a year where the form names no end: a default of this tool
EVERY = "all"
RECRUITING, FAMILY = "recruiting", "family"
NONE = "none"
FIELDS = ("graduation_year", "positions", "sides", "height", "body_mass")
PURPOSES = (RECRUITING, FAMILY, *STATED_FIELDS)  # a stated field of the sheet has a consent of its own
_PURPOSES = {one: one for one in PURPOSES}
_GIVERS = {"guardian": "guardian", "parent": "guardian", "athlete": "athlete", "adult athlete": "athlete"}
_YES = {"yes": "yes", "y": "yes", "true": "yes", "1": "yes", "no": "no", "n": "no", "false": "no", "0": "no"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Consent:
    """What was agreed for one athlete: `fields` and `measures` that may be shown, until when, by whom."""

    athlete_id: str
    given_by: str
    given_on: date
    expires_on: date
    withdrawn_on: date | None = None
    fields: tuple[str, ...]
    measures: tuple[str, ...]
    photo: bool
    projection: bool
    name_shown: str = ""
    reference: str
    import_id: str = ""  # of the file it came with; none where it was typed
    row_no: int = 0
    purpose: str = RECRUITING
    parts: tuple[Consent, ...] = ()  # of ids that were joined later: each has to stand by itself too
    statement: str = ""  # of a consent to a stated field: what is to be printed
    stated: tuple[
        Statement, ...
    ] = ()  # of a consent to summaries: the stated fields whose own consents stand today

    def covers(self, measure: str) -> bool:
        """Whether a measure may be shown."""
        return EVERY in self.measures or measure in self.measures


@dataclass(frozen=True, slots=True, kw_only=True)
class Consents:
    """The latest consent of every athlete, and those whose latest row cannot be read."""

    by_athlete: MappingOf[str, Consent]
    unreadable: frozenset[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class ConsentFile:
    """One consents file with its usable rows and the problems of the others, read once for all purposes."""

    manifest: Manifest
    table: TextTable
    mapping: Mapping
    good: Sequence[Record]
    bad: Sequence[Problem]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unplaced:
    """A row that withdraws a consent and names nobody on the roster."""

    import_id: str
    file_name: str
    row_no: int
    name: str
    day: str


def read_rows(
    manifest: Manifest, table: TextTable, mapping: Mapping, context: Context
) -> tuple[list[Record], list[Problem]]:
    """Return the usable rows of one consents file and the problems of the others."""
    return read_people(landed(manifest, table, mapping), context, parse_row)


def read_files(
    files: Sequence[tuple[Manifest, TextTable, Mapping]], context: Context
) -> tuple[ConsentFile, ...]:
    """The same of several files."""
    result = []
    for manifest, table, mapping in files:
        good, bad = read_rows(manifest, table, mapping, context)
        result.append(ConsentFile(manifest=manifest, table=table, mapping=mapping, good=good, bad=bad))
    return tuple(result)


def parse_row(row: dict[str, str], mapping: Mapping, context: Context) -> Record:
    """Return one row of a consents file as a record. Raises RowError naming the field."""
    athlete = athlete_of(row, context)
    needed_text(row, "given_by")
    given_on = day_of(row, "given_on", mapping)
    expires_on = day_of(row, "expires_on", mapping, needed=False)
    if given_on is None:
        raise RowError("given_on", "", "given_on is empty; fill it in")
    if expires_on is not None and expires_on < given_on:
        raise RowError(
            "expires_on", row["expires_on"], "expires_on is before given_on; correct one of the two"
        )
    purpose = one_of(row, "purpose", _PURPOSES) or RECRUITING
    withdrawn_on = day_of(row, "withdrawn_on", mapping, needed=False)
    own_words = purpose in STATED_FIELDS
    return {
        "athlete_id": athlete,
        "given_by": one_of(row, "given_by", _GIVERS),
        "given_on": given_on,
        "expires_on": expires_on or given_on + timedelta(days=DEFAULT_DAYS),
        "withdrawn_on": withdrawn_on,
        "fields": () if own_words else _fields(row),
        "measures": () if own_words else _measures(row, context.catalogue),
        "photo": one_of(row, "photo", _YES) == "yes",
        "projection": one_of(row, "projection", _YES) == "yes",
        "name_shown": row.get("name_shown", ""),
        "reference": row.get("reference", ""),
        "purpose": purpose,
        "statement": _statement(row, purpose, gone=withdrawn_on is not None),
    }


def _statement(row: dict[str, str], purpose: str, gone: bool) -> str:
    text = " ".join(row.get("statement", "").split())
    if purpose not in STATED_FIELDS:
        if text:
            raise RowError(
                "statement", text, f"statement: goes with a purpose of {', '.join(STATED_FIELDS)} only"
            )
        return ""
    wrong = "" if gone else problem_of(purpose, text)
    if wrong:
        raise RowError("statement", text, f"statement ({purpose}): {wrong}")
    return text


def _listed(row: dict[str, str], field: str) -> list[str]:
    words = [w.strip() for w in needed_text(row, field).split("|") if w.strip()]
    return [] if [w.lower() for w in words] == [NONE] else words


def _fields(row: dict[str, str]) -> tuple[str, ...]:
    words = [w.lower().replace(" ", "_") for w in _listed(row, "fields")]
    if words == [EVERY]:
        return FIELDS
    unknown = [w for w in words if w not in FIELDS]
    if unknown:
        accepted = ", ".join((*FIELDS, EVERY, NONE))
        raise RowError("fields", row["fields"], f"fields: {unknown[0]!r} is not one of {accepted}")
    return tuple(f for f in FIELDS if f in words)


def _measures(row: dict[str, str], catalogue: Catalogue) -> tuple[str, ...]:
    words = _listed(row, "measures")
    if [w.lower() for w in words] == [EVERY]:
        return (EVERY,)
    result = []
    for word in words:
        measure = find_measure(catalogue, word)
        if measure is None:
            raise RowError(
                "measures", word, f"measures: {word!r} is not in the catalogue; see `latewood measures`"
            )
        result.append(measure.key)
    return tuple(result)


def latest(
    files: Sequence[ConsentFile],
    context: Context,
    purpose: str = RECRUITING,
    gone: Collection[str] = (),
    joins: Joins = NOBODY_JOINED,
) -> Consents:
    """Return the latest consent of each athlete to a purpose over consents files in the order in which they came.

    Where the latest row of an athlete cannot be read, no earlier one stands in for it, whatever the purpose: it may
    have been the withdrawal. A withdrawal is final until a new consent is given: of the files that were taken out
    (`gone`, import ids) it still counts, and a consent given before it does not come after it.

    Of ids that were joined the strictest holds (see `strictest`) until a consent comes that was given after the join.
    The athletes of `context` are those ids by themselves.
    """
    standing: dict[str, Consent] = {}
    unreadable: set[str] = set()
    for file in files:
        manifest, table, mapping = file.manifest, file.table, file.mapping
        _put_together(standing, unreadable, joins, manifest.sequence)
        out = manifest.import_id in gone
        for record in file.good:
            if record["purpose"] != purpose or (out and record["withdrawn_on"] is None):
                continue
            whose = joins.head_then(record["athlete_id"], manifest.sequence)
            earlier = standing.get(whose)
            full = {**_carried(record, earlier), "athlete_id": whose}
            made = Consent(**{k: v for k, v in full.items() if k != STATED})
            unreadable.discard(made.athlete_id)
            if not _before_withdrawal(made, earlier):
                standing[made.athlete_id] = made
        lines = {problem.row_no for problem in file.bad}
        named = _named(lines & _withdrawing(table, mapping) if out else lines, table, mapping, context)
        unreadable |= {joins.head_then(one, manifest.sequence) for one in named}
    _put_together(standing, unreadable, joins, None)
    for joined_id, head in joins.heads().items():  # a build from before the join still knows them by it
        if head in standing:
            standing[joined_id] = replace(standing[head], athlete_id=joined_id)
        unreadable |= {joined_id} if head in unreadable else set()
    return Consents(by_athlete=standing, unreadable=frozenset(unreadable))


def _put_together(
    standing: dict[str, Consent], unreadable: set[str], joins: Joins, place: int | None
) -> None:
    """Merge what stands of ids that were joined before the file of this place came; all of them where it is None."""
    for one in sorted(joins.of.values(), key=lambda one: one.landed):
        if place is not None and one.landed > place:
            continue
        head = joins.head(one.joined_id) if place is None else joins.head_then(one.joined_id, place)
        theirs, kept = standing.pop(one.joined_id, None), standing.get(head)
        if theirs is not None:
            standing[head] = strictest(kept, theirs) if kept else replace(theirs, athlete_id=head)
        if one.joined_id in unreadable:
            unreadable.discard(one.joined_id)
            unreadable.add(head)


def strictest(kept: Consent, other: Consent) -> Consent:
    """What two consents of one person allow together: a withdrawal of either, the earlier end, what both show."""
    withdrawn = [one.withdrawn_on for one in (kept, other) if one.withdrawn_on is not None]
    return replace(
        kept,
        given_on=max(kept.given_on, other.given_on),
        expires_on=min(kept.expires_on, other.expires_on),
        withdrawn_on=max(withdrawn, default=None),
        fields=tuple(one for one in kept.fields if one in other.fields),
        measures=_of_both(kept.measures, other.measures),
        photo=kept.photo and other.photo,
        projection=kept.projection and other.projection,
        name_shown=kept.name_shown or other.name_shown,
        statement=kept.statement if kept.statement == other.statement else "",
        parts=(*(kept.parts or (kept,)), *(other.parts or (other,))),
    )


def _of_both(measures: tuple[str, ...], others: tuple[str, ...]) -> tuple[str, ...]:
    if EVERY in measures:
        return others
    return measures if EVERY in others else tuple(one for one in measures if one in others)


_NOT_ASKED = ("expires_on", "withdrawn_on", "photo", "projection", "name_shown", "reference")


def _carried(record: Record, earlier: Consent | None) -> Record:
    """The consent with what was said of it before where its file has no such column.

    Another consent, given on another day, stands alone; but one given before a withdrawal does not outlive it.
    """
    silent = [key for key in _NOT_ASKED if key not in record[STATED]]
    if earlier is None:
        return record
    if record["given_on"] == earlier.given_on:
        return {**record, **{key: getattr(earlier, key) for key in silent}}
    if "withdrawn_on" in silent and earlier.withdrawn_on and record["given_on"] < earlier.withdrawn_on:
        return {**record, "withdrawn_on": earlier.withdrawn_on}
    return record


def _before_withdrawal(made: Consent, last: Consent | None) -> bool:
    """Whether a consent was given before the withdrawal that stands, so that it is no new one."""
    return (
        made.withdrawn_on is None
        and last is not None
        and last.withdrawn_on is not None
        and made.given_on < last.withdrawn_on
    )


def _column(field: str, table: TextTable, mapping: Mapping) -> list[tuple[int, str]]:
    """Each line with what stands in a column; empty where the file has none."""
    header = mapping.columns.get(field) or next(
        (h for h in table.headers if h.lower().replace(" ", "_") == field), None
    )
    if header is None:
        return []
    return [(n, str(text).strip()) for n, text in zip(table.lines, table.frame[header], strict=False)]


def _withdrawing(table: TextTable, mapping: Mapping) -> set[int]:
    return {line for line, text in _column("withdrawn_on", table, mapping) if text}


def unplaced(
    files: Sequence[tuple[Manifest, TextTable, Mapping]], context: Context, settled: Collection[str]
) -> tuple[Unplaced, ...]:
    """Rows that withdraw a consent and fit nobody on the roster: whose it was must be found, or it stays given.

    Left out is a row that a person has `settled` (file's import id and line, as "id:line"), and one that a later
    file has again, with the same day, for somebody on the roster of a like name whose withdrawal of that day stood in
    no file up to then: somebody else's withdrawal of the same day settles nothing.
    """
    result: list[tuple[int, Unplaced]] = []
    placed: dict[tuple[str, str], int] = {}  # who and the day, and the first file that has it
    for at, (manifest, table, mapping) in enumerate(files):
        days = {line: text for line, text in _column("withdrawn_on", table, mapping) if text}
        for line, text in _column("athlete", table, mapping):
            if line not in days:
                continue
            try:
                placed.setdefault((athlete_of({"athlete": text}, context), days[line]), at)
            except RowError:
                row = Unplaced(
                    import_id=manifest.import_id, file_name=manifest.file_name, row_no=line, name=text, day=days[line]
                )  # fmt: skip
                result.append((at, row))
    return tuple(
        one
        for at, one in result
        if f"{one.import_id}:{one.row_no}" not in settled
        and not any(
            first > at and day == one.day and _alike(one.name, athlete, context)
            for (athlete, day), first in placed.items()
        )
    )


def _alike(text: str, athlete: str, context: Context) -> bool:
    """Whether a text that fits nobody may be this athlete's id or name with an error of typing."""
    known = [athlete, *(name for name, ids in context.athletes.items() if athlete in ids)]
    return any(
        fuzz.token_sort_ratio(plain_name(text), plain_name(name)) >= ALIKE
        or set(plain_name(name).split()) <= set(plain_name(text).split())
        for name in known
    )


def _named(lines: Collection[int], table: TextTable, mapping: Mapping, context: Context) -> set[str]:
    named: set[str] = set()
    for line, text in _column("athlete", table, mapping):
        if line in lines:
            try:
                named.add(athlete_of({"athlete": text}, context))
            except RowError:
                continue
    return named


def refusal(consents: Consents, athlete_id: str, birth_date: date | None, today: date) -> str:
    """Why nothing about an athlete may leave the program today, with the fix; '' where it may."""
    if athlete_id in consents.unreadable:
        return "the latest consent row cannot be read; correct it and import it again"
    consent = consents.by_athlete.get(athlete_id)
    if consent is None:
        return "no consent is recorded; ask the guardian, or the athlete from 18 on"
    if consent.withdrawn_on is not None:
        return f"the consent was withdrawn on {consent.withdrawn_on.isoformat()}; ask again before anything is sent"
    if consent.given_on > today:
        return f"the consent begins on {consent.given_on.isoformat()}"
    if consent.expires_on < today:
        return f"the consent ended on {consent.expires_on.isoformat()}; ask for a new one"
    return next(
        filter(None, (_giver_refusal(one, birth_date, today) for one in consent.parts or (consent,))), ""
    )


def with_statements(
    given: Consents, fields: MappingOf[str, Consents], births: MappingOf[str, date | None], today: date
) -> Consents:
    """The consents to summaries with the statements that may be printed today, each by the consent to its own field."""
    result = {}
    for athlete_id, consent in given.by_athlete.items():
        birth = births.get(athlete_id)
        stated = tuple(
            Statement(field=field, text=own.statement, stated_on=own.given_on, until=own.expires_on)
            for field, consents in fields.items()
            if (own := consents.by_athlete.get(athlete_id)) is not None
            and own.statement
            and not refusal(consents, athlete_id, birth, today)
        )
        result[athlete_id] = replace(consent, stated=stated) if stated else consent
    return replace(given, by_athlete=result)


def _giver_refusal(consent: Consent, birth_date: date | None, today: date) -> str:
    if consent.given_by == "guardian":
        grown = birth_date is not None and _adult(birth_date, today)
        return (
            "the athlete is now 18; the guardian's consent no longer counts, ask the athlete" if grown else ""
        )
    if birth_date is None:
        return "the roster has no birth date, so an athlete's own consent cannot be taken; ask the guardian"
    if not _adult(birth_date, consent.given_on):
        return "the consent was given by an athlete under 18; ask the guardian"
    return ""


def _adult(birth: date, on: date) -> bool:
    return (on.year - birth.year) - ((on.month, on.day) < (birth.month, birth.day)) >= ADULT


def consent_row(consent: Consent) -> dict[str, str]:
    """The row of a consents file that says the same."""
    return {
        "athlete": consent.athlete_id,
        "given_by": consent.given_by,
        "given_on": consent.given_on.isoformat(),
        "expires_on": consent.expires_on.isoformat(),
        "withdrawn_on": consent.withdrawn_on.isoformat() if consent.withdrawn_on else "",
        "fields": "|".join(consent.fields) or NONE,
        "measures": "|".join(consent.measures) or NONE,
        "photo": "yes" if consent.photo else "no",
        "projection": "yes" if consent.projection else "no",
        "name_shown": consent.name_shown,
        "reference": consent.reference,
        "purpose": consent.purpose,
        "statement": consent.statement,
    }
