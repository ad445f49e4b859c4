"""What a person can do: import files, decide about held rows, withdraw an import. Each ends in a new build."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from latewood.pipeline import durable
from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.errors import BusyError, FileUnreadableError, LandingError, LatewoodError, StorageError
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.build.settle import decide, record_decision, reopen, undo, withdraw
from latewood.pipeline.ingest.build.stage import with_conditions
from latewood.pipeline.ingest.code import code_version
from latewood.pipeline.ingest.consent.agreed import KIND as CONSENTS
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.files.find_files import find_files, find_mappings, read_mapping
from latewood.pipeline.ingest.files.mapping import FIELDS, Mapping, mapping_sheet
from latewood.pipeline.ingest.files.reading import TextTable, read_table
from latewood.pipeline.ingest.files.shape import cells_of, columns_of, kind_of
from latewood.pipeline.ingest.files.tidy import tidied
from latewood.pipeline.ingest.files.trace_cells import TraceCells, trace_cells
from latewood.pipeline.ingest.files.trace_trials import open_traces
from latewood.pipeline.ingest.logs import audit, content
from latewood.pipeline.ingest.logs import decisions as decided
from latewood.pipeline.ingest.people.earlier import RosterPerson, people_of, person_of, unsettled, with_people
from latewood.pipeline.ingest.people.records import Context, PeopleFile, read_people
from latewood.pipeline.ingest.program import Program, load_program, program_catalogue
from latewood.pipeline.steps import reached
from latewood.pipeline.warehouse.connection import open_published, read_sql
from latewood.pipeline.warehouse.memo import memo_of

__all__ = ["ImportOutcome", "build", "decide", "import_files", "land_files", "reopen", "undo", "withdraw"]

Progress = Callable[[str], None]
IMPORTED = "imported"


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportOutcome:
    """What became of one file. `state` is 'imported', 'already there' or 'restored'."""

    import_id: str
    file_name: str
    kind: str
    mapping: str
    state: str
    rows_in: int
    rows_taken: int
    rows_held: int
    rows_recognised: int
    rows_rejected: int
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Arrival:
    """A file that was read and understood, ready to land."""

    name: str
    content: bytes
    sha256: str
    import_id: str
    mapping: Mapping
    kind: str
    rows_in: int
    notes: tuple[str, ...]
    traced: TraceCells | None = None  # what a file of traces was read as


def import_files(
    root: Path,
    paths: Sequence[Path],
    who: str,
    mapping: Path | None = None,
    progress: Progress | None = None,
) -> list[ImportOutcome]:
    """Take files (and the files of folders) into the landing folder and build; raises as `land_files` does."""
    arrivals, states = _arrivals(root, paths, who, mapping)
    _build_or_take_back(root, arrivals, states, progress)
    return [_outcome(root, a, state, counted=True) for a, state in zip(arrivals, states, strict=True)]


def land_files(
    root: Path,
    paths: Sequence[Path],
    who: str,
    mapping: Path | None = None,
    *,
    own_columns: bool = False,
) -> list[ImportOutcome]:
    """Take files (and the files of folders) into the landing folder, to be built later.

    With `own_columns` no mapping is looked for. All files are read before any is kept: where one cannot be
    read nothing changes. Raises FileUnreadableError or MappingError naming file, line, field and the fix.
    """
    arrivals, states = _arrivals(root, paths, who, mapping, own_columns=own_columns)
    return [_outcome(root, a, state, counted=False) for a, state in zip(arrivals, states, strict=True)]


def _arrivals(
    root: Path, paths: Sequence[Path], who: str, mapping: Path | None, *, own_columns: bool = False
) -> tuple[list[_Arrival], list[str]]:
    """The files as they landed, and what became of each."""
    if not (root / "program.toml").exists():
        raise LandingError(
            f"{root}: is no data folder; make it with `latewood init --data ...`, or correct the path"
        )
    program, catalogue = load_program(root), program_catalogue(root)
    files = find_files(paths)
    chosen = read_mapping(mapping, catalogue) if mapping else None
    arrivals = []
    for path in files:
        fitting: Sequence[Mapping | None] = [chosen]
        if not chosen and not own_columns:
            fitting = find_mappings(root, path, catalogue) or [None]
        arrivals += [_arrive(path, used, catalogue) for used in fitting]
    for arrival in arrivals:
        _refuse_second_reading(root, arrival)
    _refuse_unsettled_names(root, arrivals, catalogue)
    states = [_land(root, arrival, who, program) for arrival in arrivals]
    _keep_traces(root, [a for a, state in zip(arrivals, states, strict=True) if state == IMPORTED], catalogue)
    return arrivals, states


def _keep_traces(root: Path, arrivals: Sequence[_Arrival], catalogue: Catalogue) -> None:
    """Put what new files of traces were read as into the memo, where the build finds it: they are not read twice.

    Not so one of which rows were erased since; nor anything while a build or an erasure runs.
    """
    traced = [(one, one.traced) for one in arrivals if one.traced is not None]
    if not traced:
        return
    memo = memo_of(root, code_version(), catalogue.digest)
    with suppress(BusyError, StorageError), durable.locked(root / "warehouse" / "build.lock", 0.0):
        landed = {one.import_id: one.sha256 for one in landing.manifests(root / "landing")}
        for arrival, made in traced:
            if landed.get(arrival.import_id) == arrival.sha256:
                key = (arrival.sha256, landing.safe_name(arrival.name), arrival.kind, arrival.mapping.text)
                memo.keep_frame("cells", key, with_conditions(made.cells))
                memo.keep_frame("channels", key, made.channels)


def _refuse_second_reading(root: Path, arrival: _Arrival) -> None:
    """The same file by another mapping would count its rows twice; only another sheet of a workbook may."""
    withdrawn = decided.withdrawn_imports(decided.read(root / "decisions.jsonl"))
    for known in landing.manifests(root / "landing"):
        same_file = known.sha256 == arrival.sha256 and known.import_id not in withdrawn
        if not same_file or known.import_id == arrival.import_id:
            continue
        read, now = mapping_sheet(known.mapping_text), arrival.mapping.options
        if (read.sheet, read.part) == (now.sheet, now.part) or (
            read.sheet == now.sheet and not read.part * now.part
        ):
            raise FileUnreadableError(
                f"{arrival.name}: is already imported as {known.import_id} by another mapping ({known.mapping_name}); "
                f"withdraw that first: latewood withdraw {known.import_id} --why ..."
            )


def _refuse_unsettled_names(root: Path, arrivals: Sequence[_Arrival], catalogue: Catalogue) -> None:
    """A made id may not become two athletes': raise FileUnreadableError where an earlier roster has such a name."""
    made = [a for a in arrivals if a.kind == "roster" and a.mapping.form.make_ids]
    earlier: Sequence[RosterPerson] = people_of(root) if made else []
    context = Context(athletes={}, camps={}, catalogue=catalogue, time_zone="")
    for arrival in made:
        form = arrival.mapping.form
        table = tidied(arrival.name, read_table(arrival.name, arrival.content, arrival.mapping.options), form)
        roster = PeopleFile(
            kind="roster", file_name=arrival.name, import_id=arrival.import_id, table=table, mapping=arrival.mapping
        )  # fmt: skip
        records, _ = read_people(roster, context)
        people = [person_of(record) for record in records]
        wrong = unsettled(people, earlier, dict(form.given_ids))
        if wrong and not _is_landed(root, arrival):
            raise FileUnreadableError(
                f"{arrival.name}: {wrong}; say who is meant: latewood look {arrival.name} --accept"
            )
        earlier = with_people(earlier, people)


def _is_landed(root: Path, arrival: _Arrival) -> bool:
    """Whether this very file came in before, by this mapping."""
    return any(one.import_id == arrival.import_id for one in landing.manifests(root / "landing"))


def _build_or_take_back(
    root: Path, arrivals: Sequence[_Arrival], states: Sequence[str], progress: Progress | None
) -> None:
    """Build; where that fails, the files that have just landed go again, so that nothing has changed."""
    fresh = [a for a, state in zip(arrivals, states, strict=True) if state == IMPORTED]
    build_landed(root, {a.import_id for a in fresh}, progress)


def build_landed(root: Path, landed: Collection[str], progress: Progress | None = None) -> None:
    """Build; where that fails, the imports that have just landed go again, so that nothing has changed."""
    try:
        build(root, progress)
    except BaseException:
        with durable.locked(root / "landing" / ".lock"):
            kept = _published_imports(root)  # another process may have built, and told of, what landed here
            for manifest in landing.manifests(root / "landing"):
                if manifest.import_id in landed and manifest.import_id not in kept:
                    _take_back(root, manifest)
        raise


def _take_back(root: Path, arrival: _Arrival | landing.Manifest) -> None:
    content.mark_taken_back(root, _manifest_name(arrival))
    landing.take_back(root / "landing", arrival.sha256, arrival.import_id)


def _manifest_name(arrival: _Arrival | landing.Manifest) -> str:
    return f"landing/{arrival.sha256}/{arrival.import_id}.json"


def _published_imports(root: Path) -> set[str]:
    try:
        with open_published(root) as connection:
            return {str(row[0]) for row in connection.execute("select import_id from import").fetchall()}
    except LatewoodError:
        return set()


def _arrive(path: Path, mapping: Mapping | None, catalogue: Catalogue) -> _Arrival:
    try:
        content = path.read_bytes()
    except OSError as error:
        raise FileUnreadableError(
            f"{path.name}: cannot be read ({error.strerror}); check its permissions"
        ) from error
    used = mapping or Mapping()
    if used.kind == "traces":
        table = open_traces(path.name, content, used)
    else:
        table = tidied(path.name, read_table(path.name, content, used.options), used.form)
    kind = kind_of(path.name, table, mapping)
    traced = trace_cells(path.name, table, used, catalogue) if kind == "traces" else None
    rows_in, ignored = _count(path.name, table, kind, used, catalogue)
    reported: tuple[str, ...] = ()
    if traced is not None:
        rows_in, reported = len(traced.cells.frame), traced.notes
    sha256 = landing.file_hash(content)
    notes = (*table.notes, *((f"{landing.UNUSED}{', '.join(ignored)}",) if ignored else ()), *reported)
    return _Arrival(
        name=path.name,
        content=content,
        sha256=sha256,
        import_id=landing.import_id_of(sha256, used.text),
        mapping=used,
        kind=kind,
        rows_in=rows_in,
        notes=notes,
        traced=traced,
    )


def _count(
    name: str, table: TextTable, kind: str, mapping: Mapping, catalogue: Catalogue
) -> tuple[int, list[str]]:
    """How many rows the file hands in, lines where it holds traces, and which of its columns nobody reads."""
    conditions = {c.key for m in catalogue.measures.values() for c in m.conditions}
    used = {*mapping.columns.values(), *mapping.condition_columns.values(), *sum(FIELDS[kind], ())}
    used |= {*mapping.form.athlete_parts, *(column for column, _ in mapping.form.where)}
    used |= {c for block in mapping.values for c in block.read} | (
        conditions if kind in ("readings", "traces") else set()
    )
    plain = {u.lower().replace("_", " ") for u in used}
    ignored = [h for h in table.headers if h.lower().replace("_", " ") not in plain]
    if kind == "readings":
        return len(cells_of(name, table, mapping, catalogue).frame), ignored
    if kind != "traces":
        columns_of(name, table, mapping, *FIELDS[kind])
    return len(table.frame), ignored


def _land(root: Path, arrival: _Arrival, who: str, program: Program) -> str:
    with durable.locked(root / "landing" / ".lock"):
        landing.sweep(root / "landing")
        audit.ready(root)
        content.mark_late_arrival(root)
        known = landing.manifests(root / "landing")
        made = decided.read(root / "decisions.jsonl")
        there = next((m for m in known if m.import_id == arrival.import_id), None)
        if there is not None:
            if there.sha256 == arrival.sha256:  # not so where rows of it were erased
                landing.repair_content(root / "landing", there, arrival.content)
            if arrival.import_id not in decided.withdrawn_imports(made):
                return "already there"
            answer = decided.Answer(action="restore", who=who, why="imported again")
            record_decision(root, answer, {arrival.import_id: {}}, program)
            return "restored"
        landing.store(root / "landing", _manifest(arrival, who, program, _next_place(known)), arrival.content)
        reached("manifest landed")
        _note_arrival(root, arrival, who)
    return IMPORTED


def _next_place(known: Sequence[landing.Manifest]) -> int:
    """Behind all others; not their number, since some may have been taken back or erased."""
    return 1 + max((m.sequence for m in known), default=-1)


def _note_arrival(root: Path, arrival: _Arrival, who: str) -> None:
    """Mark the manifest, and log a consents file; where that cannot be done the file goes again."""
    try:
        content.mark_arrival(root, _manifest_name(arrival))
        if arrival.kind == CONSENTS:
            audit.append(root, "consent", who, {"import": arrival.import_id, "rows": arrival.rows_in})
    except LatewoodError:
        _take_back(root, arrival)
        raise


def _manifest(arrival: _Arrival, who: str, program: Program, sequence: int) -> landing.Manifest:
    return landing.Manifest(
        import_id=arrival.import_id,
        sha256=arrival.sha256,
        file_name=arrival.name,
        stored_as=landing.safe_name(arrival.name),
        size=len(arrival.content),
        kind=arrival.kind,
        mapping_name=arrival.mapping.name,
        mapping_text=arrival.mapping.text,
        received_at=program.now().isoformat(),
        received_by=who,
        sequence=sequence,
        rows_in=arrival.rows_in,
        notes=arrival.notes,
    )


def _outcome(root: Path, arrival: _Arrival, state: str, *, counted: bool) -> ImportOutcome:
    counts = (0, 0, 0, 0)
    if counted:
        with open_published(root) as connection:
            result = connection.execute(
                read_sql("read/import_counts.sql"), {"import_id": arrival.import_id}
            ).fetchone()
        if result is None:
            raise LandingError(
                f"{arrival.name}: was taken back meanwhile, since a build by somebody else failed; import it again"
            )
        counts = result
        _note_outcome(root, arrival, counts)
    return ImportOutcome(
        import_id=arrival.import_id,
        file_name=arrival.name,
        kind=arrival.kind,
        mapping=arrival.mapping.name,
        state=state,
        rows_in=arrival.rows_in,
        rows_taken=counts[0],
        rows_held=counts[1],
        rows_recognised=counts[2],
        rows_rejected=counts[3],
        notes=arrival.notes,
    )


def _note_outcome(root: Path, arrival: _Arrival, counts: tuple[int, int, int, int]) -> None:
    for manifest in landing.manifests(root / "landing"):
        path = root / "landing" / manifest.sha256 / f"{manifest.import_id}.outcome"
        if manifest.import_id == arrival.import_id and not path.exists():
            outcome = {
                "rows_in": arrival.rows_in,
                "rows_taken": counts[0],
                "rows_held": counts[1],
                "rows_recognised": counts[2],
                "rows_rejected": counts[3],
            }
            with durable.locked(root / "landing" / ".lock"):
                landing.write_outcome(root / "landing", manifest, outcome)
