"""The shell around the look: what the program knows, the mappings saved before, and taking in what was accepted."""

from __future__ import annotations

import json
import re
import tempfile
import tomllib
from collections.abc import Mapping as MappingOf
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from latewood.pipeline import durable
from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.actions import ImportOutcome, build_landed, land_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.build.settle import decide
from latewood.pipeline.ingest.files.find_files import find_mappings
from latewood.pipeline.ingest.files.landing import file_hash, manifests, safe_name
from latewood.pipeline.ingest.files.mapping import Mapping, parse_mapping
from latewood.pipeline.ingest.files.shape import plain
from latewood.pipeline.ingest.logs.decisions import Answer, withdrawn_imports
from latewood.pipeline.ingest.logs.decisions import read as read_decisions
from latewood.pipeline.ingest.look.earlier import GIVEN_IDS
from latewood.pipeline.ingest.look.naming import name_rows
from latewood.pipeline.ingest.look.proposal import Known, Proposal
from latewood.pipeline.ingest.look.propose import propose
from latewood.pipeline.ingest.look.write import PROPOSED
from latewood.pipeline.ingest.people.earlier import people_of, with_people
from latewood.pipeline.ingest.people.hands import sides_of
from latewood.pipeline.ingest.program import load_program, program_catalogue
from latewood.pipeline.warehouse.check import athlete_names
from latewood.pipeline.warehouse.connection import open_published

LAST_CONDITIONS = """
with per_camp as (
    select reading.measure, reading.conditions, camp.starts_on
    from reading join camp on reading.measured_on between camp.starts_on and camp.ends_on
    where not reading.set_aside
    group by all
)
select measure, list(conditions) from (
    select * from per_camp qualify starts_on = max(starts_on) over (partition by measure)
) group by measure order by measure
"""
HELD_NAMES = """
select athlete_text, list(held_id order by row_no, field) from held_row
where import_id = $import_id and state = 'open' and rule in ('unknown_athlete', 'same_name')
group by athlete_text order by athlete_text
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """One file with its content and what a look at it proposes, one proposal a sheet."""

    name: str
    content: bytes
    proposals: tuple[Proposal, ...]

    @property
    def ready(self) -> bool:
        """Whether every sheet that can be read is settled, and there is one."""
        usable = [p for p in self.proposals if not p.problem]
        return bool(usable) and all(p.ready for p in usable)


def known_of(root: Path) -> Known:
    """What the published build knows of people and camps; nothing where there is none yet."""
    catalogue = program_catalogue(root)
    try:
        with open_published(root) as connection:
            names = athlete_names(connection)
            shown = connection.execute("select athlete_id, display_name from athlete order by all").fetchall()
            days = connection.execute("select min(starts_on), max(ends_on) from camp").fetchone() or (
                None,
                None,
            )
            sides = sides_of(connection)
            zones = connection.execute("select distinct time_zone from camp").fetchall()
            usual = {
                measure: _alike(texts) for measure, texts in connection.execute(LAST_CONDITIONS).fetchall()
            }
    except LatewoodError:
        return Known(catalogue=catalogue, names={}, shown={})
    return Known(
        catalogue=catalogue, names=names, shown=dict(shown), first_day=days[0], last_day=days[1], usual=usual,
        time_zone=zones[0][0] if len(zones) == 1 else load_program(root).time_zone, people=people_of(root), sides=sides,
    )  # fmt: skip


def _alike(texts: Sequence[str]) -> dict[str, str]:
    """The conditions that every one of some sets of them states alike."""
    first, *rest = (json.loads(text) for text in texts)
    return {key: value for key, value in first.items() if all(one.get(key) == value for one in rest)}


def look_at(
    root: Path,
    files: Sequence[tuple[str, bytes]],
    answers: MappingOf[str, str],
    known: Known | None = None,
    *,
    anew: bool = False,
) -> list[Looked]:
    """Look at each file by itself; one that cannot be read stops no other. Nothing is stored.

    An answer counts for every file; one whose key begins with a file's name and ' > ' only for that file. With
    `anew`, mappings that were saved before are not used.
    """
    known = known or known_of(root)
    looks = []
    for name, content in files:
        own = {k.removeprefix(f"{name} > "): v for k, v in answers.items() if k.startswith(f"{name} > ")}
        landed = [] if anew else _landed_roster(root, content, known.catalogue)
        saved = landed or ([] if anew else _saved(root, name, content, known.catalogue))
        beside = replace(known, people=()) if landed else known  # it is not compared with itself
        proposals = propose(name, content, beside, {**answers, **own}, saved)
        looks.append(Looked(name=name, content=content, proposals=proposals))
        known = replace(known, people=with_people(known.people, [p for one in proposals for p in one.people]))
    return looks


def _landed_roster(root: Path, content: bytes, catalogue: Catalogue) -> list[Mapping]:
    """The mapping by which this very roster came in before; none where it did not, or was withdrawn."""
    withdrawn = withdrawn_imports(read_decisions(root / "decisions.jsonl"))
    return [
        parse_mapping(one.mapping_text, one.mapping_name, catalogue)
        for one in manifests(root / "landing")
        if one.sha256 == file_hash(content)
        and (one.kind, bool(one.mapping_text)) == ("roster", True)
        and one.import_id not in withdrawn
    ]


def _saved(root: Path, name: str, content: bytes, catalogue: Catalogue) -> list[Mapping]:
    """The mappings of the data folder that fit a file; none where two dispute it or one is damaged."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / Path(name).name
        path.write_bytes(content)
        try:
            return find_mappings(root, path, catalogue)
        except LatewoodError:
            return []


def save_mapping(root: Path, proposal: Proposal) -> Path | None:
    """Keep the mapping of an accepted proposal under `mappings/`.

    One that is there already stays one; one that an earlier look proposed for the same headers and sheet is replaced.
    """
    if not proposal.mapping_text:
        return None
    folder = root / "mappings"
    for path in sorted(folder.glob("*.toml")):
        text = path.read_text(encoding="utf-8")
        if text == proposal.mapping_text:
            return path
        wanted = _shape(proposal.mapping_text)
        if text.startswith(PROPOSED) and wanted.headers and _shape(text) == wanted:
            durable.write_atomically(path, proposal.mapping_text.encode())
            return path
    stem = re.sub(r"[\W\d_]+", "_", Path(proposal.file_name).stem).strip("_").lower() or "sheet"
    part = re.sub(r"\W+", "_", proposal.sheet).strip("_").lower()
    tail = f"_{part}" if part else ""
    path, n = folder / f"{safe_name(stem + tail)}.toml", 1
    while path.exists():
        n += 1
        path = folder / f"{safe_name(stem + tail)}_{n}.toml"
    durable.write_atomically(path, proposal.mapping_text.encode())
    return path


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shape:
    """By what a mapping is found again: its sheet and headers, and of a trial the form of its name and the hand."""

    sheet: str
    headers: frozenset[str]
    trace: tuple[str, str]


def _shape(text: str) -> _Shape:
    raw = tomllib.loads(text)
    trace = raw.get("trace", {})
    return _Shape(
        sheet=str(raw.get("sheet", "")), headers=frozenset(map(plain, raw.get("headers", ()))),
        trace=(str(trace.get("file_name", "")), str(trace.get("hand", ""))),
    )  # fmt: skip


def accept(
    root: Path, looks: Sequence[Looked], who: str, *, build_after: bool = True
) -> tuple[list[ImportOutcome], list[str]]:
    """Take in the files whose looks are settled: save their mappings, import, build, and give names to athletes.

    Returns the outcomes, and one line for each file or sheet that was not taken. Roster files go first. Without
    `build_after` the names are written down for the build that follows.
    """
    outcomes: list[ImportOutcome] = []
    refused: list[str] = []
    named: list[tuple[str, Proposal]] = []
    before = _mappings(root)
    with tempfile.TemporaryDirectory() as folder:
        for looked, proposal in _in_order(looks):
            if not looked.ready or proposal.problem:
                refused.append(_why_not(looked, proposal))
                continue
            path = Path(folder) / Path(looked.name).name
            path.write_bytes(looked.content)
            try:
                outcome = _take(root, path, proposal, who)
            except LatewoodError as error:
                refused.append(str(error))
                continue
            outcomes.append(outcome)
            named.append((outcome.import_id, proposal))
    if build_after and outcomes:
        _build_with_names(root, outcomes, named, who, before)
    elif outcomes:
        contents = {looked.name: looked.content for looked in looks}
        for outcome, (import_id, proposal) in zip(outcomes, named, strict=True):
            name_rows(root, import_id, contents[outcome.file_name], proposal, who)
    return outcomes, list(dict.fromkeys(refused))


def _mappings(root: Path) -> dict[Path, str]:
    return {path: path.read_text(encoding="utf-8") for path in (root / "mappings").glob("*.toml")}


def _restore_mappings(root: Path, before: MappingOf[Path, str]) -> None:
    """Put the saved mappings back as they were."""
    for path, text in _mappings(root).items():
        if path not in before:
            path.unlink()
        elif text != before[path]:
            durable.write_atomically(path, before[path].encode())


def _build_with_names(
    root: Path,
    outcomes: Sequence[ImportOutcome],
    named: Sequence[tuple[str, Proposal]],
    who: str,
    before: MappingOf[Path, str],
) -> None:
    """Build, give the names, build again.

    Where the first build fails nothing is kept; where a later step fails the error says what landed.
    """
    fresh = {one.import_id for one in outcomes if one.state == "imported"}
    try:
        build_landed(root, fresh)
    except BaseException as error:
        _restore_mappings(root, before)
        if isinstance(error, LatewoodError):
            raise type(error)(
                f"{error}; nothing of these {len(fresh)} files was kept{_restored(outcomes)}"
            ) from error
        raise
    try:
        if _give_names(root, named, who):
            build(root)
    except LatewoodError as error:
        landed = "; ".join(f"{o.file_name} is {o.state} as {o.import_id}" for o in outcomes)
        raise type(error)(
            f"{error}. The files are in, with names that may not be given yet: {landed}. Build again with "
            f"`latewood build`, or take one out: latewood withdraw {outcomes[0].import_id} --why ..."
        ) from error


def _restored(outcomes: Sequence[ImportOutcome]) -> str:
    back = [o.import_id for o in outcomes if o.state == "restored"]
    return (
        f"; restored, and so until withdrawn again with `latewood withdraw`: {', '.join(back)}"
        if back
        else ""
    )


def _in_order(looks: Sequence[Looked]) -> list[tuple[Looked, Proposal]]:
    order = ("roster", "camps", "stays")
    pairs = [(looked, proposal) for looked in looks for proposal in looked.proposals]
    return sorted(pairs, key=lambda p: order.index(p[1].kind) if p[1].kind in order else len(order))


def _why_not(looked: Looked, proposal: Proposal) -> str:
    if proposal.problem:
        return proposal.problem
    keys = [q.key for p in looked.proposals for q in p.open]
    return f"{looked.name}: not taken, questions are open: {', '.join(map(repr, keys))}"


def _take(root: Path, path: Path, proposal: Proposal, who: str) -> ImportOutcome:
    before = _mappings(root)
    mapping = _kept_mapping(root, path.parent, proposal)
    try:
        return land_files(root, [path], who, mapping, own_columns=mapping is None)[0]
    except LatewoodError:
        _restore_mappings(root, before)
        raise


def _kept_mapping(root: Path, beside: Path, proposal: Proposal) -> Path | None:
    """The mapping to import with: saved for the next file too, but where it gives ids, which are of this file alone."""
    if GIVEN_IDS not in proposal.mapping_text:
        return save_mapping(root, proposal)
    path = beside / "mapping.toml"
    path.write_text(proposal.mapping_text, encoding="utf-8")
    return path


def _give_names(root: Path, named: Sequence[tuple[str, Proposal]], who: str) -> int:
    """Assign the held rows of each name that was settled in the look; how many names."""
    given = 0
    for import_id, proposal in named:
        chosen = {n.text: (n.chosen, n.reason) for n in proposal.names if n.chosen}
        if not chosen:
            continue
        with open_published(root) as connection:
            rows = connection.execute(HELD_NAMES, {"import_id": import_id}).fetchall()
        for text, held in rows:
            if text in chosen:
                athlete, reason = chosen[text]
                answer = Answer(action="assign", who=who, why=f"look: {reason}", argument=athlete)
                decide(root, held, answer, build_after=False)
                given += 1
    return given
