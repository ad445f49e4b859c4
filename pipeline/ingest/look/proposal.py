"""What a look at a file ends in: how it would be read, why, what it would store, and what has to be asked first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.ingest.files.mapping import SheetForm
from latewood.pipeline.ingest.files.reading import ReadingOptions, TextTable
from latewood.pipeline.ingest.people.earlier import RosterPerson
from latewood.pipeline.ingest.people.hands import Sides

LEAVE = "leave it out"
NOBODY = "hold these rows"
SURE, LIKELY, ASKED, LEFT = "sure", "likely", "asked", "not used"


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What a look may know of the program: its measures, whose name is whose, and when its camps are.

    `names` maps an id, or a plain name, to the ids that carry it; `shown` an id to the name as written. `usual` maps a
    measure to the conditions that all its readings of the last camp state alike. `time_zone` is that of the camps.
    `sides`: how each bats and throws.
    """

    catalogue: Catalogue
    names: Mapping[str, Sequence[str]]
    shown: Mapping[str, str]
    first_day: date | None = None
    last_day: date | None = None
    time_zone: str = ""
    people: Sequence[RosterPerson] = ()  # athletes of earlier rosters
    usual: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    sides: Mapping[str, Sides] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class FileQuestion:
    """Something the file does not settle. `choices` is empty where a day has to be typed.

    `answer` is '' while it is open; an answer that is not `needed` may stay so, and `proposed` is then taken.
    """

    key: str
    text: str
    choices: tuple[str, ...]
    proposed: str
    answer: str
    needed: bool = True

    @property
    def taken(self) -> str:
        """What counts: the answer, or the proposal where no answer is needed; '' while open."""
        return self.answer or ("" if self.needed else self.proposed)


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnLook:
    """One column: what it is taken for (a field, a measure, a condition), how sure, and why."""

    header: str
    target: str
    unit: str = ""
    certainty: str
    reason: str
    trial: int = 0
    conditions: tuple[tuple[str, str], ...] = ()
    written: str = "number"
    scale: str = "1"
    inches: str = ""  # the column of the inches beyond these feet
    role: str = "field"  # field, measure, condition or none
    day: str = ""  # of this column alone
    day_column: str = ""
    athlete_column: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NameLook:
    """One name of the file: the rows that carry it, and whom it may mean (id and score of 100), likeliest first.

    `chosen` is the athlete it will be given to: '' where the name fits as it stands, or nobody was chosen.
    """

    text: str
    rows: int
    candidates: tuple[tuple[str, int], ...]
    chosen: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A table as it lies in a file, read without knowing what it means."""

    table: TextTable
    options: ReadingOptions
    dropped: tuple[tuple[int, str], ...]  # line and first cell of footers and repeated headers
    notes: tuple[str, ...] = ()
    label: str = ""  # which of several tables of a file this is, for questions that are of one alone


@dataclass(frozen=True, slots=True, kw_only=True)
class ValuePreview:
    """One value as it would be stored."""

    athlete: str
    day: str
    measure: str
    value: str
    conditions: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """How one file, or one sheet of a workbook, would be read. `problem` says why it cannot be."""

    file_name: str
    sheet: str = ""
    kind: str = ""
    form: str = ""  # encoding, separator, header line, in words
    columns: tuple[ColumnLook, ...] = ()
    questions: tuple[FileQuestion, ...] = ()
    names: tuple[NameLook, ...] = ()
    dropped: tuple[tuple[int, str], ...] = ()
    samples: tuple[ValuePreview, ...] = ()
    notes: tuple[str, ...] = ()
    mapping_text: str = ""
    problem: str = ""
    people: tuple[RosterPerson, ...] = ()  # of a roster, with the ids they get
    unnamed: tuple[
        str, ...
    ] = ()  # where nothing is known: columns of numbers that could be measures of their own

    @property
    def open(self) -> tuple[FileQuestion, ...]:
        """The questions that have to be answered before the file is taken."""
        return tuple(q for q in self.questions if not q.taken)

    @property
    def ready(self) -> bool:
        """Whether the file can be taken as it is proposed."""
        return not self.problem and not self.open


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnPlan:
    """What the columns of a table come to, before it is written as a mapping."""

    kind: str
    layout: str
    columns: tuple[ColumnLook, ...]
    questions: tuple[FileQuestion, ...]
    fields: Mapping[str, str]
    form: SheetForm
    date_format: str = ""
    decimal: str = "."
    constant_day: str = ""
    conditions: Mapping[str, str]
    measure_names: Mapping[str, str]
    units: Mapping[str, str]
    notes: tuple[str, ...] = ()
