"""Examines a data folder, file by file, and says what is wrong and how to correct it; it changes nothing.

Meant to be shown: `findings` are plain sentences, those that are `wrong` first. A note is something to know that
corrects itself: a line cut short by a crash, a build that does not hold yet what was typed since.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import duckdb

from latewood.pipeline import durable
from latewood.pipeline.care.unfinished import unfinished
from latewood.pipeline.errors import LatewoodError, NothingPublishedError
from latewood.pipeline.ingest.build.run import BUILDING
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.inputs import read_inputs
from latewood.pipeline.ingest.logs import (
    audit,
    case_words,
    content,
    decisions,
    entered,
    focus,
    planlog,
    start_draws,
    videos,
)
from latewood.pipeline.ingest.logs.lines import whole_bytes
from latewood.pipeline.pages import register
from latewood.pipeline.pages.keys import known_public
from latewood.pipeline.warehouse.accounts import check_accounts
from latewood.pipeline.warehouse.connection import open_published, read_every_row

RESTORE: Final = "restore it from a backup (latewood restore)"
REBUILD: Final = "run `latewood build --fresh`"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing found: in which part of the folder, what, and the fix; `wrong` where it does not correct itself."""

    area: str
    wrong: bool
    what: str
    mend: str


Findings = Iterator[Finding]


def check_folder(root: Path) -> tuple[Finding, ...]:
    """Everything found in a data folder, what is wrong first; empty where all is as it was written.

    Reads every landed file and every row of the warehouse: seconds for a camp, minutes for years of data.
    """
    result = [finding for area, look in AREAS.items() for finding in _looked(area, look, root)]
    return tuple(sorted(result, key=lambda finding: not finding.wrong))


def _looked(area: str, look: Callable[[Path], Findings], root: Path) -> list[Finding]:
    result: list[Finding] = []
    try:
        result.extend(look(root))
    except LatewoodError as error:
        what, _, fix = str(error).rpartition("; ")
        result.append(
            Finding(
                area=area, wrong=True, what=what or fix, mend=fix if what else "correct the file it names"
            )
        )
    except (OSError, UnicodeDecodeError) as error:
        result.append(Finding(area=area, wrong=True, what=f"cannot be read ({error})", mend=RESTORE))
    return result


def _settings(root: Path) -> Findings:
    read = read_inputs(root)
    if read.program.text == "":
        yield Finding(
            area="settings", wrong=True, what="there is no program.toml",
            mend=f"make the folder with `latewood init`, or {RESTORE}",
        )  # fmt: skip


def _landing(root: Path) -> Findings:
    folder = root / "landing"
    named: dict[str, set[str]] = {}
    for manifest in landing.manifests(folder):
        named.setdefault(manifest.sha256, set()).add(manifest.stored_as)
        fits = landing.import_id_of(manifest.sha256, manifest.mapping_text) == manifest.import_id
        if not fits and not landing.was_redacted(manifest):
            yield _wrong(
                "landing", f"the manifest of {manifest.file_name} does not fit its import id", RESTORE
            )
        try:
            landing.read_file(folder, manifest)
        except LatewoodError as error:
            yield _wrong(
                "landing", str(error).rpartition("; ")[0], f"import the same file again, or {RESTORE}"
            )
    for kept in sorted(folder.glob("[0-9a-f]*")):
        if kept.is_dir() and kept.name not in named:
            names = ", ".join(sorted(p.name for p in kept.iterdir() if not p.name.startswith(".")))
            yield _note(
                "landing", f"{names or 'an empty folder'} arrived without a manifest", "import the file again"
            )
    waiting = [*folder.glob(f"{landing.ARRIVING}*"), *folder.glob(f"[0-9a-f]*/.*{durable.UNFINISHED}")]
    if waiting:
        yield _note(
            "landing", f"{len(waiting)} half-written files of a killed import", "the next import deletes them"
        )


def _decisions(root: Path) -> Findings:
    path = root / "decisions.jsonl"
    made = decisions.read(path)
    logged = {line.details.get("decision") for line in audit.lines(root)}
    erased = any(line.event == "erasure" for line in audit.lines(root))
    for position, one in enumerate(made):
        if not erased and not decisions.fits(one, position):
            yield _wrong("decisions", f"decision {one.decision_id} was changed after it was written", RESTORE)
        if one.decision_id not in logged and position < len(made) - 1:
            yield _wrong(
                "decisions", f"decision {one.decision_id} does not stand in the audit log", "ask who made it"
            )
    if made and made[-1].decision_id not in logged:
        yield _note(
            "decisions",
            "the last decision is not in the audit log: a crash came between",
            "the next one adds it",
        )
    yield from _torn("decisions", path)


def _typed(root: Path) -> Findings:
    for path in sorted((root / entered.FOLDER).glob("*.jsonl")):
        for number, entry in entered.read_lines_of(whole_bytes(path), path.name):
            reported = [path.name, number - 1, entry.athlete_id, entry.measure, entry.value]
            if hashlib.sha256("\n".join(map(str, reported)).encode()).hexdigest()[:12] != entry.entry_id:
                yield _wrong(
                    "typed values", f"{path.name}, line {number}: was changed after it was written", RESTORE
                )
        yield from _torn("typed values", path)


def _plans(root: Path) -> Findings:
    planlog.read_log(root)
    yield from _torn("plan log", root / planlog.LOG)


def _focus(root: Path) -> Findings:
    focus.read_log(root)
    yield from _torn("focus log", root / focus.LOG)


def _cases(root: Path) -> Findings:
    case_words.read_log(root)
    yield from _torn("words on cases", root / case_words.LOG)


def _videos(root: Path) -> Findings:
    videos.read_log(root)
    yield from _torn("films of trials", root / videos.LOG)


def _drawn(root: Path) -> Findings:
    area, logged = "drawn starts", start_draws.logged(root)
    made = [start_draws.noted(draw) for draw in start_draws.read_log(root)]
    for one in logged:
        if one not in made:
            yield _wrong(
                area, f"the draw of camp {one['draw']} was changed or taken out after it was made", RESTORE
            )
    for at, other in enumerate(made):
        if other["draw"] in {one["draw"] for one in logged}:
            continue
        if at < len(made) - 1:
            yield _wrong(
                area, f"the draw of camp {other['draw']} does not stand in the audit log", "ask who made it"
            )
        else:
            text = "the last draw is not in the audit log: a crash came between"
            yield _note(area, text, "the next one adds it")
    yield from _torn(area, root / start_draws.LOG)


def _audit(root: Path) -> Findings:
    state = audit.check(root)
    for problem in state.problems:
        yield _wrong(
            "audit log", problem, "see `latewood audit`; compare its head with your copy, or restore a backup"
        )
    for note in state.notes:
        yield _note("audit log", note, "nothing to do")
    audit.subjects(root)


def _content(root: Path) -> Findings:
    for wrong, what in content.findings(root, audited=audit.content_begun(root)):
        yield Finding(
            area="content", wrong=wrong, what=what, mend=RESTORE if wrong else "the next command notes it"
        )


def _consents(root: Path) -> Findings:
    try:
        standing = consent_book.standing(root)
    except NothingPublishedError:
        return
    for one in consent_book.unplaced(root):
        what = f"{one.file_name}, line {one.row_no}: a consent is withdrawn for {one.name!r}, who is not on the roster"
        yield _wrong(
            "consents", what, "withdraw the consent of whoever is meant, then reject the row with the reason"
        )
    if standing.unreadable:
        n = len(standing.unreadable)
        yield _note("consents", f"the latest consent row of {n} athletes cannot be read, so nothing leaves for them",
                    "correct the rows and import the file again")  # fmt: skip


def _register(root: Path) -> Findings:
    path = root / "landing" / "register.jsonl"
    if path.exists():
        public = known_public(root)
        if public is None:
            yield _wrong("register", "the signing key is missing, so no page can be checked", RESTORE)
            return
        for problem in register.read(root, public).problems:
            yield _wrong("register", problem, RESTORE)
        yield from _torn("register", path)
    for kept in sorted((root / "landing" / "issued").glob("[0-9a-f]*.json")):
        try:
            json.loads(kept.read_text(encoding="utf-8"))
        except ValueError:
            yield _wrong("register", f"issued/{kept.name[:12]}: what was printed cannot be read", RESTORE)


def _warehouse(root: Path) -> Findings:
    try:
        with closing(open_published(root)) as connection:
            read_every_row(connection)
            read = read_inputs(root)
            check_accounts(connection, [m.import_id for m in read.imports if landing.was_redacted(m)])
            (build_id,) = connection.execute("select build_id from build_log").fetchone() or ("",)
    except duckdb.Error as error:
        yield _wrong("warehouse", f"the published build is damaged ({str(error).splitlines()[0]})", REBUILD)
        return
    if build_id != read.build_id:
        what = "the published build does not hold everything: files, decisions, settings or the tool changed since"
        yield _note("warehouse", what, "run `latewood build`")
    left = list((root / "warehouse").glob(f"{BUILDING}*"))
    if left:
        yield _note(
            "warehouse",
            f"{len(left)} files of a build that runs or was killed",
            "the next build deletes them",
        )


def _unfinished(root: Path) -> Findings:
    for wrong, what, fix in unfinished(root):
        yield Finding(area="unfinished", wrong=wrong, what=what, mend=fix)


def _torn(area: str, path: Path) -> Findings:
    torn = durable.torn_end(path)
    if torn:
        what = f"{path.name} ends with {len(torn)} bytes of a line that was never finished, so nobody was told of it"
        yield _note(area, what, "the next line cuts them off")


def _wrong(area: str, what: str, mend: str) -> Finding:
    return Finding(area=area, wrong=True, what=what, mend=mend)


def _note(area: str, what: str, mend: str) -> Finding:
    return Finding(area=area, wrong=False, what=what, mend=mend)


AREAS: Final[dict[str, Callable[[Path], Findings]]] = {
    "settings": _settings,
    "unfinished": _unfinished,
    "landing": _landing,
    "decisions": _decisions,
    "typed values": _typed,
    "plan log": _plans,
    "focus log": _focus,
    "words on cases": _cases,
    "films of trials": _videos,
    "drawn starts": _drawn,
    "audit log": _audit,
    "content": _content,
    "consents": _consents,
    "register": _register,
    "warehouse": _warehouse,
}
