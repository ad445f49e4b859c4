"""Brings the files of all active imports into the warehouse: people straight away, readings as text to be checked."""

from __future__ import annotations

import json
from collections.abc import Mapping as MappingOf
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd

from latewood.pipeline.ingest.build.typed_table import entered_table
from latewood.pipeline.ingest.consent import agreed
from latewood.pipeline.ingest.files.landing import Manifest, read_file
from latewood.pipeline.ingest.files.mapping import Mapping, SheetForm, parse_mapping
from latewood.pipeline.ingest.files.reading import TextTable, Typed, read_table
from latewood.pipeline.ingest.files.shape import Cells, cells_of
from latewood.pipeline.ingest.files.tidy import tidied
from latewood.pipeline.ingest.files.trace_cells import trace_cells
from latewood.pipeline.ingest.files.trace_trials import open_traces
from latewood.pipeline.ingest.inputs import Inputs
from latewood.pipeline.ingest.logs import decisions as decided
from latewood.pipeline.ingest.logs.entered import is_entered
from latewood.pipeline.ingest.logs.joins import Joins
from latewood.pipeline.ingest.logs.standing import STATED, current_records
from latewood.pipeline.ingest.people.joined import as_one, names_apart, save_names
from latewood.pipeline.ingest.people.records import KEYS, Context, Problem, Record, landed, read_people
from latewood.pipeline.warehouse.check import Staged, athlete_names
from latewood.pipeline.warehouse.connection import insert_frame
from latewood.pipeline.warehouse.lookups import plain_name
from latewood.pipeline.warehouse.memo import Memo
from latewood.pipeline.warehouse.packed import categories

READ_KINDS = ("readings", "traces")
PEOPLE_KINDS = ("roster", "camps", "stays", "plans")
_OF_THEIR_OWN = ("aliases", "test_days", STATED)  # not columns of the table itself
NO_CHANNELS = pd.DataFrame()
FILE_COLUMNS = ("import_seq", "import_id", "date_format", "decimal_mark", "received_on")
_TABLES = {"roster": "athlete", "camps": "camp", "stays": "stay", "plans": "plan"}


@dataclass(frozen=True, slots=True, kw_only=True)
class FileCells:
    """What one file holds: its values as text, and for traces what each channel showed."""

    cells: Cells
    channels: pd.DataFrame


def open_import(
    landing: Path, manifest: Manifest, inputs: Inputs, *, every_row: bool = False, typed: Typed | None = None
) -> tuple[TextTable, Mapping]:
    """Return a landed file as text and the mapping it was imported with.

    `every_row`: also those [where] leaves out. `typed`: see `read_table`, for a file that is not tidied up.
    """
    mapping = mapping_of(manifest, inputs)
    if is_entered(manifest):
        return entered_table(landing.parent, manifest), mapping
    plain = typed if mapping.form == SheetForm() else None
    table = read_table(manifest.file_name, read_file(landing, manifest), mapping.options, plain)
    form = replace(mapping.form, where=()) if every_row else mapping.form
    return tidied(manifest.file_name, table, form), mapping


def mapping_of(manifest: Manifest, inputs: Inputs) -> Mapping:
    """Return the mapping kept in a manifest; the empty one where the file has our own columns."""
    if not manifest.mapping_text:
        return Mapping(kind=manifest.kind)
    return parse_mapping(manifest.mapping_text, manifest.mapping_name, inputs.catalogue)


def stage_people(
    connection: duckdb.DuckDBPyConnection, landing: Path, active: Sequence[Manifest], inputs: Inputs
) -> None:
    """Fill athlete, alias, camp, stay and plan; rows that cannot be used are held. The latest word wins."""
    connection.execute("create temp table people_taken (import_id varchar, row_no integer)")
    problems: list[Problem] = []
    camps: dict[str, Record] = {}
    for kind in PEOPLE_KINDS:
        context = Context(
            athletes=athlete_names(connection), camps=camps, catalogue=inputs.catalogue,
            time_zone=inputs.program.time_zone,
        )  # fmt: skip
        records: list[Record] = []
        for manifest in (m for m in active if m.kind == kind):
            table, mapping = open_import(landing, manifest, inputs)
            good, bad = read_people(landed(manifest, table, mapping), context)
            records += good
            problems += bad
        kept = current_records(kind, KEYS[kind], records)
        if kind == "roster":
            person = as_one(kept, inputs.joins)
            kept, records = list(person.records), _without(records, person.problems)
            problems += person.problems
            save_names(connection, person)
        _save_people(connection, kind, kept, records)
        if kind == "camps":
            camps = {k: r for r in kept for k in (r["camp_id"], plain_name(r["label"]))}
    problems += _consent_problems(connection, landing, active, inputs)
    _hold(connection, problems, decided.row_decisions(list(inputs.decisions)))


def _without(records: Sequence[Record], problems: Sequence[Problem]) -> list[Record]:
    wrong = {(one.import_id, one.row_no) for one in problems}
    return [one for one in records if (one["import_id"], one["row_no"]) not in wrong]


def _consent_problems(
    connection: duckdb.DuckDBPyConnection, landing: Path, active: Sequence[Manifest], inputs: Inputs
) -> list[Problem]:
    """Rows of consents files that cannot be used; the others stay in landing, where exports read them."""
    context = Context(
        athletes=names_apart(connection, inputs.joins), camps={}, catalogue=inputs.catalogue,
        time_zone=inputs.program.time_zone,
    )  # fmt: skip
    problems: list[Problem] = []
    for manifest in (m for m in active if m.kind == agreed.KIND):
        table, mapping = open_import(landing, manifest, inputs)
        good, bad = agreed.read_rows(manifest, table, mapping, context)
        problems += bad
        taken = pd.DataFrame([(r["import_id"], r["row_no"]) for r in good], columns=["import_id", "row_no"])
        insert_frame(connection, "people_taken", taken)
    return problems


def _save_people(
    connection: duckdb.DuckDBPyConnection, kind: str, kept: list[Record], all_: list[Record]
) -> None:
    if not kept:
        return
    taken = pd.DataFrame([(r["import_id"], r["row_no"]) for r in all_], columns=["import_id", "row_no"])
    insert_frame(connection, "people_taken", taken)
    if kind == "roster":
        aliases = [(r["athlete_id"], a, "roster") for r in kept for a in r["aliases"]]
        if aliases:
            insert_frame(
                connection, "alias", pd.DataFrame(aliases, columns=["athlete_id", "alias", "origin"])
            )
    if kind == "camps":
        days = [(r["camp_id"], day) for r in kept for day in r["test_days"]]
        insert_frame(connection, "test_day", pd.DataFrame(days, columns=["camp_id", "on_date"]))
    frame = pd.DataFrame([{k: v for k, v in r.items() if k not in _OF_THEIR_OWN} for r in kept])
    if kind == "roster":
        frame["graduation_year"] = frame["graduation_year"].astype("Int64")
    insert_frame(connection, _TABLES[kind], frame.dropna(axis="columns", how="all"))
    if kind == "plans":
        connection.execute(
            "update plan set stay_id = stay.stay_id from stay where stay.athlete_id = plan.athlete_id "
            "and plan.start_on between stay.arrived_on - 3 and coalesce(stay.left_on, stay.planned_until)"
        )


def _hold(
    connection: duckdb.DuckDBPyConnection,
    problems: Sequence[Problem],
    made: MappingOf[tuple[str, str], tuple[str, str]],
) -> None:
    rows = []
    for p in problems:
        held_id = f"{p.import_id}:{p.row_no}:{p.field}"
        rejected = made.get((held_id, "row"), ("", ""))[0] == "reject"
        rows.append({
            "held_id": held_id, "import_id": p.import_id, "row_no": p.row_no, "field": p.field,
            "rule": "people_row", "reason": p.reason, "raw_value": p.given, "proposal": "none",
            "group_id": f"{p.import_id}:people_row:{p.field}", "state": "rejected" if rejected else "open",
        })  # fmt: skip
    if rows:
        insert_frame(connection, "held_row", pd.DataFrame(rows))


def stage_readings(landing: Path, active: Sequence[Manifest], inputs: Inputs, memo: Memo) -> Staged:
    """Return the readings of all active imports as text, in the order in which they were received."""
    frames: list[pd.DataFrame] = []
    files: list[tuple[object, ...]] = []
    combinations: list[MappingOf[str, str]] = []
    observed = 0
    channels: list[pd.DataFrame] = []
    for position, manifest in enumerate(m for m in active if m.kind in READ_KINDS):
        read = read_cells(landing, manifest, inputs, memo)
        if len(read.channels):
            channels.append(read.channels.assign(import_id=manifest.import_id))
        mapping, cells = mapping_of(manifest, inputs), read.cells
        frame = cells.frame.assign(
            seq=np.arange(observed, observed + len(cells.frame)),
            import_seq=position,
            combination=cells.frame["combination"] + len(combinations),
        )
        files.append((
            position, manifest.import_id, mapping.date_format, mapping.decimal, manifest.received.date(),
        ))  # fmt: skip
        frames.append(frame)
        combinations.extend(cells.combinations)
        observed += len(frame)
    return Staged(
        cells=frames,
        files=pd.DataFrame(files, columns=list(FILE_COLUMNS)),
        combinations=combinations,
        decisions=_decision_frame(list(inputs.decisions)),
        assignments=_assignment_frame(list(inputs.decisions), inputs.joins),
        time_zone=inputs.program.time_zone,
        channels=channels,
    )


def files_read(inputs: Inputs) -> list[Manifest]:
    """The files of readings that no decision takes back, in the order in which a build reads them."""
    withdrawn = decided.withdrawn_imports(list(inputs.decisions))
    return [m for m in inputs.imports if m.kind in READ_KINDS and m.import_id not in withdrawn]


def read_cells(landing: Path, manifest: Manifest, inputs: Inputs, memo: Memo) -> FileCells:
    """The values of one file of readings or traces as text: read once, then found in the memo by the file's hash.

    The landed file is held against its hash each time. What was typed on a screen is read each time too.
    """
    if is_entered(manifest):
        return _read_cells(landing, manifest, inputs)
    read_file(landing, manifest)
    key = (manifest.sha256, manifest.stored_as, manifest.kind, manifest.mapping_text)
    made = cache(partial(_read_cells, landing, manifest, inputs))
    frame = memo.categories("cells", key, lambda: with_conditions(made().cells))
    channels = (
        memo.frame("channels", key, lambda: made().channels) if manifest.kind == "traces" else NO_CHANNELS
    )
    return FileCells(cells=_without_conditions(frame), channels=channels)


def _read_cells(landing: Path, manifest: Manifest, inputs: Inputs) -> FileCells:
    if manifest.kind == "traces":
        mapping = mapping_of(manifest, inputs)
        table = open_traces(manifest.file_name, read_file(landing, manifest), mapping)
        result = trace_cells(manifest.file_name, table, mapping, inputs.catalogue)
        return FileCells(cells=result.cells, channels=result.channels)
    long = mapping_of(manifest, inputs).layout != "wide"
    table, mapping = open_import(landing, manifest, inputs, typed=Typed() if long else None)
    return FileCells(
        cells=cells_of(manifest.file_name, table, mapping, inputs.catalogue), channels=NO_CHANNELS
    )


def with_conditions(cells: Cells) -> pd.DataFrame:
    """The cells with their conditions in words beside the number of the combination."""
    words = [json.dumps(dict(one), sort_keys=True) for one in cells.combinations]
    codes, distinct = pd.factorize(np.array(words, dtype=object))
    return cells.frame.assign(conditions=categories(codes[cells.frame["combination"]], distinct))


def _without_conditions(frame: pd.DataFrame) -> Cells:
    distinct = frame[["combination", "conditions"]].drop_duplicates("combination")
    words = dict(zip(distinct["combination"], distinct["conditions"], strict=True))
    combinations = [json.loads(words.get(k, "{}")) for k in range(max(words, default=-1) + 1)]
    return Cells(frame=frame.drop(columns="conditions"), combinations=tuple(combinations))


def split_held_id(held_id: str) -> tuple[str, int, str]:
    """The import, row and field that a held row's id names."""
    import_id, row_no, field = held_id.split(":", 2)
    return import_id, int(row_no), field


def _decision_frame(made: list[decided.Decision]) -> pd.DataFrame:
    rows = [
        (*split_held_id(held), stage, action, argument)
        for (held, stage), (action, argument) in decided.row_decisions(made).items()
    ]
    return pd.DataFrame(rows, columns=["import_id", "row_no", "field", "stage", "action", "argument"])


def _assignment_frame(made: list[decided.Decision], joins: Joins) -> pd.DataFrame:
    rows = [
        (*split_held_id(held), joins.head(athlete), rule)
        for held, (athlete, rule) in decided.assignments(made).items()
    ]
    return pd.DataFrame(rows, columns=["import_id", "row_no", "field", "athlete_id", "rule"])
