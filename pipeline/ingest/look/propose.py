"""The look at one file: a pure function of its name, its bytes, what the program knows, and the answers given."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from collections.abc import Mapping as MappingOf
from dataclasses import replace

from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.files.loose import has_day
from latewood.pipeline.ingest.files.mapping import Mapping, parse_mapping
from latewood.pipeline.ingest.files.motion import described
from latewood.pipeline.ingest.files.reading import (
    DELIMITER_WORDS,
    ReadingOptions,
    TextTable,
    read_motion,
    read_table,
)
from latewood.pipeline.ingest.files.shape import cells_of, kind_of, plain
from latewood.pipeline.ingest.files.tidy import tidied
from latewood.pipeline.ingest.files.trace_cells import trace_cells
from latewood.pipeline.ingest.look import columns as col
from latewood.pipeline.ingest.look.cells import comma_is_point, filled, is_numeric
from latewood.pipeline.ingest.look.earlier import EarlierLook, look_at_earlier, with_ids
from latewood.pipeline.ingest.look.grid import sheets_of, turned_sheet
from latewood.pipeline.ingest.look.headers import (
    field_of,
    half_days,
    name_table,
    read_header,
    without_day,
    without_half_day,
)
from latewood.pipeline.ingest.look.motion import look_at_motion
from latewood.pipeline.ingest.look.people import look_at_names
from latewood.pipeline.ingest.look.plan import plan_readings
from latewood.pipeline.ingest.look.proposal import (
    ColumnPlan,
    FileQuestion,
    Known,
    NameLook,
    Proposal,
    Sheet,
    ValuePreview,
)
from latewood.pipeline.ingest.look.roster import plan_roster
from latewood.pipeline.ingest.look.sample import samples_of
from latewood.pipeline.ingest.look.who import is_athlete, named_between
from latewood.pipeline.ingest.look.words import WEEK_DAYS
from latewood.pipeline.ingest.look.write import mapping_text
from latewood.pipeline.warehouse.lookups import ids_of

SURE_HEADER = 2.0  # points of a header that names a field or, as it stands, a measure
MOST_ROUNDS = 4  # of questions that come up only when others are answered
NOTHING = (
    "no column says who, or none is a measure of the catalogue; name them as in the import guide, "
    "or declare the measure first"
)


def propose(
    name: str, content: bytes, known: Known, answers: MappingOf[str, str], saved: Sequence[Mapping] = ()
) -> tuple[Proposal, ...]:
    """Return how a file would be read, one proposal a sheet; a file that cannot be read is one with its problem.

    `answers` are those given so far by the keys of their questions; `saved` the mappings known to fit the file.
    Nothing is stored, and no error is raised for what a file holds.
    """
    try:
        motion = read_motion(name, content)
        if motion is not None and not saved:
            return (look_at_motion(name, content, motion, known, answers),)
        if saved:
            return tuple(_by_mapping(name, content, known, answers, one) for one in saved)
        own = _own_columns(name, content, known, answers)
        if own is not None:
            return (own,)
        names = name_table(known.catalogue)
        score = _score(known, names)
        looks = [
            _sheet_or_problem(name, sheet, table, known, answers)
            for sheet, table in labelled(_upright(name, content, known, score))
        ]
    except (LatewoodError, ValueError, IndexError, OverflowError) as error:
        return (Proposal(file_name=name, problem=str(error) or type(error).__name__),)
    usable = [p for p in looks if not p.problem]
    if usable:
        unread = tuple(f"not read: {p.problem}" for p in looks if p.problem)
        return (replace(usable[0], notes=(*usable[0].notes, *unread)), *usable[1:])
    return tuple(looks) or (Proposal(file_name=name, problem=f"{name}: holds no table"),)


def _upright(
    name: str, content: bytes, known: Known, score: Callable[[str], float]
) -> list[tuple[str, Sheet | LatewoodError]]:
    """The tables of a file; those with measures below each other, and athletes or days across, are turned."""

    def heads(cell: str) -> bool:
        return has_day([cell]) or is_athlete(cell, known)

    tables: list[tuple[str, Sheet | LatewoodError]] = []
    for title, table in sheets_of(name, content, score):
        lying = isinstance(table, Sheet) and _lies(table, known, score)
        turned = turned_sheet(name, content, table, heads) if lying and isinstance(table, Sheet) else table
        tables.append((title, turned))
    return tables


def _lies(sheet: Sheet, known: Known, score: Callable[[str], float]) -> bool:
    """Whether most columns are headed by athletes or days, and most rows by something that is measured."""
    heads = [col.bare_header(h) for h in sheet.table.headers[1:]]
    if sheet.options.part or len(heads) < 2:
        return False
    across = max(sum(is_athlete(h, known) for h in heads), sum(has_day([h]) for h in heads))
    if across <= max(1, len(heads) / 2):
        return False
    rows = [text for cell in sheet.table.frame.iloc[:, 0] if (text := cell.strip())]
    measured = sum(score(text) >= SURE_HEADER for text in rows)
    return 2 * measured >= max(1, len(rows))


def labelled(
    tables: Sequence[tuple[str, Sheet | LatewoodError]],
) -> list[tuple[str, Sheet | LatewoodError]]:
    """Tables with their labels where a file has several, so that what is asked of one is not answered for all."""
    if sum(isinstance(table, Sheet) for _, table in tables) < 2:
        return list(tables)
    return [
        (title, replace(table, label=_label(table)) if isinstance(table, Sheet) else table)
        for title, table in tables
    ]


def _label(table: Sheet) -> str:
    below = f"table {table.options.part}" if table.options.part else ""
    return ", ".join(filter(None, (table.options.sheet, below)))


def _score(known: Known, names: MappingOf[str, str]) -> Callable[[str], float]:
    cache: dict[str, float] = {}

    def score(header: str) -> float:
        if header not in cache:
            words = without_day(header)
            words = without_half_day(words) if half_days(words) else words
            result = read_header(words, known.catalogue, names) if words and len(header) < 60 else None
            points = (
                0.0
                if result is None
                else (SURE_HEADER if not result.strange and result.score == 100 else 0.7)
            )
            cache[header] = max(points, SURE_HEADER if field_of(header) else 0.0)
        return cache[header]

    return score


def _own_columns(name: str, content: bytes, known: Known, answers: MappingOf[str, str]) -> Proposal | None:
    """A file that has the tool's own columns is read as it is."""
    try:
        table = read_table(name, content, ReadingOptions())
        kind = kind_of(name, table, None)
    except LatewoodError:
        return None
    return _described(name, table, Mapping(kind=kind), known, answers)


def _by_mapping(
    name: str, content: bytes, known: Known, answers: MappingOf[str, str], mapping: Mapping
) -> Proposal:
    table = tidied(name, read_table(name, content, mapping.options), mapping.form)
    result = _described(name, table, mapping, known, answers)
    motion = read_motion(name, content)
    if motion is None:
        return result
    form = result.form.rpartition("; ")[0]
    cells = trace_cells(name, table, mapping, known.catalogue).cells
    names, questions = look_at_names(list(cells.frame["athlete_text"]), known, answers)
    return replace(
        result, form=f"{form}; {motion.form}", notes=(*described(motion), *table.notes), names=tuple(names),
        questions=(*result.questions, *questions), samples=samples_of(cells, mapping, known, names),
    )  # fmt: skip


def _described(
    name: str, table: TextTable, mapping: Mapping, known: Known, answers: MappingOf[str, str]
) -> Proposal:
    """What a file comes to by a mapping that is already there."""
    names: list[NameLook] = []
    questions: list[FileQuestion] = []
    samples: tuple[ValuePreview, ...] = ()
    if mapping.kind == "readings":
        cells = cells_of(name, table, mapping, known.catalogue)
        names, questions = look_at_names(list(cells.frame["athlete_text"]), known, answers)
        samples = samples_of(cells, mapping, known, names)
    earlier = _earlier(name, table, mapping, known, answers)
    place = f" (mappings/{mapping.file})" if mapping.file else ""
    how = f"mapping {mapping.name!r}, saved before{place}" if mapping.text else "the tool's own columns"
    return Proposal(
        file_name=name, sheet=table.sheet, kind=mapping.kind, form=f"{how}; header in line {table.header_line}",
        questions=(*questions, *earlier.questions), names=tuple(names), samples=samples,
        notes=(*table.notes, *earlier.notes), mapping_text=with_ids(mapping.text, earlier.ids), people=earlier.people,
    )  # fmt: skip


def _earlier(
    name: str, table: TextTable, mapping: Mapping, known: Known, answers: MappingOf[str, str]
) -> EarlierLook:
    """The people of a roster beside those of earlier ones; nothing of other kinds of files."""
    if mapping.kind != "roster":
        return EarlierLook(ids={})
    return look_at_earlier(name, table, mapping, known, answers)


def _sheet_or_problem(
    name: str, title: str, table: Sheet | LatewoodError, known: Known, answers: MappingOf[str, str]
) -> Proposal:
    """One sheet; where it cannot be read, it stops none of the others."""
    try:
        return _sheet(name, title, table, known, answers)
    except (LatewoodError, ValueError, IndexError, OverflowError) as error:
        return Proposal(file_name=name, sheet=title, problem=str(error) or type(error).__name__)


def _sheet(
    name: str, title: str, table: Sheet | LatewoodError, known: Known, answers: MappingOf[str, str]
) -> Proposal:
    if isinstance(table, LatewoodError):
        return Proposal(file_name=name, sheet=title, problem=str(table))
    plan = _plan(name, table, known, answers)
    if plan is None:
        problem = f"{table.table.header_of(name)}: {_why_nothing(table, known)}"
        return Proposal(file_name=name, sheet=title, problem=problem, unnamed=_unnamed(table, known))
    shown = _as_if_answered(name, table, known, answers, plan)
    text = mapping_text(name, table, shown)
    mapping = parse_mapping(text, name, known.catalogue)
    names: list[NameLook] = []
    questions: list[FileQuestion] = []
    samples: tuple[ValuePreview, ...] = ()
    earlier = EarlierLook(ids={})
    if plan.kind == "roster" and not any(q.key.startswith("date") for q in plan.questions if not q.taken):
        earlier = _earlier(name, tidied(name, table.table, mapping.form), mapping, known, answers)
    if plan.kind == "readings" and not (plan.form.date_from == "" and _no_day(shown)):
        read = tidied(name, table.table, mapping.form)
        cells = cells_of(name, read, mapping, known.catalogue)
        names, questions = look_at_names(list(cells.frame["athlete_text"]), known, answers)
        samples = samples_of(cells, mapping, known, names)
    return Proposal(
        file_name=name, sheet=title, kind=plan.kind, form=_form_words(table), columns=plan.columns,
        questions=(*plan.questions, *questions, *earlier.questions), names=tuple(names), dropped=table.dropped,
        samples=samples, notes=(*table.notes, *plan.notes, *earlier.notes), mapping_text=with_ids(text, earlier.ids),
        people=earlier.people,
    )  # fmt: skip


def _as_if_answered(
    name: str, table: Sheet, known: Known, answers: MappingOf[str, str], plan: ColumnPlan
) -> ColumnPlan:
    """The plan as it would be with the likeliest answers, also to what is asked only then; for the values shown."""
    shown, given = plan, dict(answers)
    for _ in range(MOST_ROUNDS):
        still = {q.key: q.proposed or next(iter(q.choices), "") for q in shown.questions if not q.taken}
        given |= {key: answer for key, answer in still.items() if answer}
        further = _plan(name, table, known, given) if any(still.values()) else None
        if further is None:
            break
        shown = further
    return shown


def _why_nothing(sheet: Sheet, known: Known) -> str:
    """Why a table is no readings and no roster: who is missing, or what."""
    texts = {h: [t.strip() for t in sheet.table.frame[h]] for h in sheet.table.headers}
    names = name_table(known.catalogue)
    across = [h for h in texts if len(ids_of(h, known.names)) == 1]
    if len(across) > 1:
        return f"athletes stand across the columns ({', '.join(across[:3])} ...): turn the table, one row an athlete"
    week = [h for h in texts if plain(h) in WEEK_DAYS]
    if len(week) > 1:
        return f"columns are headed by days of the week ({', '.join(week[:3])}): write the dates there and look again"
    alone = named_between(sheet, known)
    if alone:
        return f"names stand alone on lines between the rows (line {alone}): put them into a column of the rows below"
    named = [(h, one) for h in texts if (one := read_header(h, known.catalogue, names)) and not one.refused]
    if named and known.names and not col.athlete_columns(texts, known, set()):
        return "no column holds names or ids of the roster; add a column with the athlete, or import the roster first"
    unread = next(((h, one, kept[0]) for h, one in named if (kept := filled(texts[h]))), None)
    if unread is not None:
        label = known.catalogue.measures[unread[1].measure].label.lower()
        return f"{unread[0]!r} is {label}, but its cells cannot be read, such as {unread[2]!r}; correct them"
    return NOTHING


def _unnamed(sheet: Sheet, known: Known) -> tuple[str, ...]:
    """Headers of numbers that name no measure and no field."""
    names = name_table(known.catalogue)
    return tuple(
        h
        for h in sheet.table.headers
        if is_numeric([t.strip() for t in sheet.table.frame[h]])
        and not field_of(h)
        and read_header(h, known.catalogue, names) is None
    )


def _no_day(plan: ColumnPlan) -> bool:
    own = [bool(c.day or c.day_column) for c in plan.columns if c.role == "measure"]
    return "measured_on" not in plan.fields and not plan.constant_day and not (own and all(own))


def _plan(name: str, sheet: Sheet, known: Known, answers: MappingOf[str, str]) -> ColumnPlan | None:
    texts = {h: [t.strip() for t in sheet.table.frame[h]] for h in sheet.table.headers}
    decimal = "," if comma_is_point(list(texts.values())) else "."

    def fresh() -> col.Look:
        return col.Look(known=known, names=name_table(known.catalogue), answers=answers, decimal=decimal)

    if not any(_is_measure(h, known) for h in texts) and (plan := plan_roster(texts, fresh())):
        return plan
    return plan_readings(name, sheet, texts, fresh()) or plan_roster(texts, fresh())


def _is_measure(header: str, known: Known) -> bool:
    result = read_header(header, known.catalogue, name_table(known.catalogue))
    return result is not None and result.score == 100 and not result.strange


def _form_words(sheet: Sheet) -> str:
    options = sheet.options
    split = (
        f"{options.encoding}, split by {DELIMITER_WORDS[options.delimiter]}, " if options.delimiter else ""
    )
    lines = "s" if options.header_lines > 1 else ""
    last = f" and {sheet.table.header_line + 1}" if lines else ""
    part = f"table {options.part} of it, " if options.part else ""
    if options.turned:
        return f"{split}rows and columns exchanged"
    return f"{split}{part}header in line{lines} {sheet.table.header_line}{last}"
