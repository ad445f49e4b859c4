"""What a build concluded, kept small beside the visits: builds themselves are pruned, and cannot be asked later.

conclusions/<build id>.json.gz is written when somebody looks at that build, and goes when nobody's visit names it.
"""

from __future__ import annotations

import gzip
import json
import os
from contextlib import closing
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Any, Final

import duckdb
from filelock import FileLock

from latewood.pipeline.errors import BuildError
from latewood.pipeline.ingest.people.visits import observed_builds
from latewood.pipeline.warehouse.connection import open_read_only, read_sql

FOLDER: Final = "conclusions"
FORM: Final = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Conclusion:
    """One athlete's change over one stay in one line, with the day and value of each session, as measured."""

    athlete_id: str
    stay_id: str
    camp_id: str
    measure: str
    line: str
    n_sessions: int
    change: float | None
    low: float | None
    high: float | None
    z: float | None
    verdict: str
    sessions: tuple[tuple[date, float], ...]
    planned_sessions: int = 0  # not kept by earlier versions: then as many as there are

    @property
    def key(self) -> tuple[str, str, str]:
        """What the conclusion is about, the same in every build."""
        return self.stay_id, self.measure, self.line


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanConclusion:
    """What was said of one plan: its status and its row of the decision table ('' where it has none)."""

    plan_id: str
    athlete_id: str
    stay_id: str
    status: str
    table_row: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Conclusions:
    """Everything one build concluded that a later look is compared with, and what it was made from."""

    build_id: str
    code: str  # version of the program with the catalogue's
    data: str  # hash of files and decisions
    n_open: int  # held rows
    imports: frozenset[str]
    trends: tuple[Conclusion, ...]
    plans: tuple[PlanConclusion, ...]


def conclude(root: Path, build_id: str) -> Conclusions:
    """What this build concluded, from its warehouse. Raises BuildError where it is no longer there."""
    files = sorted((root / "warehouse").glob(f"build-{build_id}-*.duckdb"))
    if not files:
        raise BuildError(f"build {build_id} is no longer there; reload the page")
    with closing(open_read_only(files[-1])) as connection:
        made = _rows(connection, "conclusion_inputs")[0]
        trends, plans = _rows(connection, "conclusions"), _rows(connection, "plan_conclusions")
    return Conclusions(
        build_id=build_id,
        code=f"{made['code_version']} {made['catalogue_digest']}",
        data=f"{made['landing_digest']} {made['decisions_digest']}",
        n_open=made["n_open"],
        imports=frozenset(made["imports"] or ()),
        trends=tuple(_trend(row) for row in trends),
        plans=tuple(PlanConclusion(**row) for row in plans),
    )


def _rows(connection: duckdb.DuckDBPyConnection, name: str) -> list[dict[str, Any]]:
    cursor = connection.execute(read_sql(f"read/{name}.sql"))
    names = [column[0] for column in cursor.description]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def _trend(row: dict[str, Any]) -> Conclusion:
    days, values = row.pop("on_days"), row.pop("of_days")
    return Conclusion(
        **row, sessions=tuple((date.fromisoformat(d), float(v)) for d, v in zip(days, values, strict=True))
    )


def keep(root: Path, found: Conclusions) -> None:
    """Write conclusions down whole, and remove those that no visit names any more. Raises OSError."""
    folder = root / FOLDER
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    with FileLock(str(folder / ".lock")):
        if not path_of(root, found.build_id).exists():
            _write(root, found)
        wanted = {path_of(root, one).name for one in (*observed_builds(root), found.build_id)}
        for path in folder.glob("*.json.gz"):
            if path.name not in wanted:
                path.unlink(missing_ok=True)


def kept(root: Path, build_id: str) -> Conclusions | None:
    """What an earlier build concluded; None where it is no longer kept or cannot be read."""
    try:
        raw = json.loads(gzip.decompress(path_of(root, build_id).read_bytes()))
        if raw["form"] != FORM:
            return None
        return Conclusions(
            build_id=raw["build_id"],
            code=raw["code"],
            data=raw["data"],
            n_open=raw["n_open"],
            imports=frozenset(raw["imports"]),
            trends=tuple(_trend(dict(row)) for row in raw["trends"]),
            plans=tuple(PlanConclusion(**row) for row in raw["plans"]),
        )
    except (OSError, EOFError, ValueError, KeyError, TypeError, AttributeError):
        return None


def forget(root: Path, athlete_id: str) -> None:
    """Take one athlete out of everything kept; a file that cannot be read goes whole."""
    folder = root / FOLDER
    if not folder.exists():
        return
    with FileLock(str(folder / ".lock")):
        for path in folder.glob("*.json.gz"):
            result = kept(root, path.name.partition(".")[0])
            if result is None:
                path.unlink()
            else:
                _write(root, _without(result, athlete_id))
        for left in folder.glob(
            ".*.json.gz.*"
        ):  # what a killed look left; nobody writes while the lock is held
            left.unlink()


def _without(found: Conclusions, athlete_id: str) -> Conclusions:
    return Conclusions(
        build_id=found.build_id, code=found.code, data=found.data, n_open=found.n_open, imports=found.imports,
        trends=tuple(one for one in found.trends if one.athlete_id != athlete_id),
        plans=tuple(one for one in found.plans if one.athlete_id != athlete_id),
    )  # fmt: skip


def path_of(root: Path, build_id: str) -> Path:
    """The file of one build's conclusions."""
    return root / FOLDER / f"{build_id}.json.gz"


def _write(root: Path, found: Conclusions) -> None:
    record = {
        "form": FORM, "build_id": found.build_id, "code": found.code, "data": found.data, "n_open": found.n_open,
        "imports": sorted(found.imports), "trends": [_plain(one) for one in found.trends],
        "plans": [asdict(one) for one in found.plans],
    }  # fmt: skip
    path = path_of(root, found.build_id)
    waiting = path.with_name(f".{path.name}.{os.getpid()}")
    with waiting.open("wb") as stream:
        stream.write(gzip.compress(json.dumps(record).encode(), compresslevel=1))
        stream.flush()
        os.fsync(stream.fileno())
    waiting.replace(path)


def _plain(one: Conclusion) -> dict[str, Any]:
    row = {name: getattr(one, name) for name in Conclusion.__dataclass_fields__ if name != "sessions"}
    row["on_days"] = [day.isoformat() for day, _ in one.sessions]
    row["of_days"] = [value for _, value in one.sessions]
    return row
