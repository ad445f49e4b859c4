"""The invented academy: its data folder, and the test that what was planted in its files is found again."""

from __future__ import annotations

import json
import shutil
import tempfile
import tomllib
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import duckdb

from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.actions import land_files
from latewood.pipeline.ingest.build.run import BuildSummary, build
from latewood.pipeline.ingest.logs import case_words, focus
from latewood.pipeline.ingest.program import prepare_folder
from latewood.pipeline.warehouse.connection import open_published, read_sql

Progress = Callable[[str], None]
STEWARD = "demo"
WORDS: Final = "coach_words.toml"  # beside the demo's files
# Beside the pipeline, in the project's folder as where it is installed.
SEED_DATA: Final = Path(__file__).resolve().parents[2] / "seed_data"
RECALL_WANTED = 0.9
PRECISION_WANTED = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleScore:
    """How one data rule did: planted, found under its own name or any, and with the right proposal."""

    rule: str
    planted: int
    found: int
    same_rule: int
    proposals: int
    proposals_right: int
    false: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EffectScore:
    """A planted effect beside the recovered one with its 95 % interval, in the units named."""

    name: str
    unit: str
    planted: float
    recovered: float | None
    low: float | None
    high: float | None
    n: int
    note: str

    @property
    def covers(self) -> bool | None:
        """Whether the interval holds the planted value; None where nothing was claimed."""
        if self.low is None or self.high is None:
            return None
        return self.low <= self.planted <= self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class SelfTest:
    """All scores of one run."""

    rules: Sequence[RuleScore]
    effects: Sequence[EffectScore]
    coverage: Sequence[EffectScore]

    @property
    def recall(self) -> float:
        """Share of planted errors that were held."""
        return sum(r.found for r in self.rules) / max(1, sum(r.planted for r in self.rules))

    @property
    def precision(self) -> float:
        """Share of held rows that were planted errors."""
        result, false = sum(r.found for r in self.rules), sum(r.false for r in self.rules)
        return result / max(1, result + false)

    @property
    def passed(self) -> bool:
        """Whether the data rules reach what is wanted of them."""
        return self.recall >= RECALL_WANTED and self.precision >= PRECISION_WANTED


def make_demo(root: Path, source: Path, progress: Progress | None = None) -> BuildSummary:
    """Make a data folder of the demo files and build it.

    Raises FileUnreadableError where the folder of demo files is not there.
    """
    if not (source / "program.toml").exists():
        raise FileUnreadableError(f"{source}: holds no demo files; give their folder with --source")
    prepare_folder(root)
    shutil.copyfile(source / "program.toml", root / "program.toml")
    for mapping in sorted((source / "mappings").glob("*.toml")):
        shutil.copyfile(mapping, root / "mappings" / mapping.name)
    land_files(root, [source / "files"], STEWARD)
    _write_words(root, source / WORDS)
    return build(root, progress)


def _write_words(root: Path, file: Path) -> None:
    """The invented coach's words and focuses, into the logs that the screens write; none without a file."""
    if not file.exists():
        return
    words = tomllib.loads(file.read_text(encoding="utf-8"))
    for one in words["case"]:
        draft = case_words.NewWords(
            athlete_id=one["athlete"], stay_id=one["stay"], part=one["part"], text=one["text"],
            family=one.get("family", False),
        )  # fmt: skip
        case_words.write(root, draft, words["by"])
    for one in words["focus"]:
        focus.write(
            root,
            focus.NewFocus(
                athlete_id=one["athlete"],
                text=one["text"],
                measure=one["measure"],
                review_on=one["review_on"],
                target=one.get("target"),
            ),
            words["by"],
        )


def run_selftest(source: Path, progress: Progress | None = None) -> SelfTest:
    """Build the demo in a scratch folder and score it against its answer key."""
    key = json.loads((source / "answer_key.json").read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory(prefix="latewood-selftest-") as scratch:
        make_demo(Path(scratch), source, progress)
        with open_published(Path(scratch)) as connection:
            return score(connection, key)


def score(connection: duckdb.DuckDBPyConnection, key: dict[str, Any]) -> SelfTest:
    """Score a built demo against its answer key."""
    return SelfTest(
        rules=_rule_scores(connection, key),
        effects=_effect_scores(connection, key),
        coverage=_cohort_scores(connection, key),
    )


def _planted(key: dict[str, Any]) -> dict[tuple[str, int, str], dict[str, Any]]:
    planted = {(e["file"], e["line"], e["field"]): e for e in key["errors"]}
    for full in key["whole_files"]:
        for line in range(full["first_line"], full["last_line"] + 1):
            for field in full["fields"]:
                planted.setdefault(
                    (full["file"], line, field), {**full, "expected_proposal": {"kind": "value"}}
                )
    return planted


def _rule_scores(connection: duckdb.DuckDBPyConnection, key: dict[str, Any]) -> list[RuleScore]:
    rows = connection.execute(read_sql("read/held_by_file.sql")).fetchall()
    held = {(r[0], r[1], r[2]): (r[3], r[4]) for r in rows}
    planted = _planted(key)
    partly_whole = {w["file"] for w in key["whole_files"]}
    excused = {(e["file"], e["line"], field) for e in key["errors"] for field in e.get("may_also_hold", ())}
    tallies: dict[str, Counter[str]] = {}
    for place, error in planted.items():
        tally = tallies.setdefault(error["rule"], Counter())
        tally["planted"] += 1
        if place not in held:
            tally["missing"] += error["rule"] == "whole_file_unit"
            continue
        rule, proposed = held[place]
        tally["found"] += 1
        tally["same"] += rule == error["rule"]
        expected = error["expected_proposal"].get("value")
        if expected is not None:
            tally["proposals"] += 1
            tally["right"] += proposed is not None and abs(proposed - expected) <= 0.005 * abs(expected)
    for place, (rule, _) in held.items():
        if place in planted or place in excused or (place[0] in partly_whole and rule == "whole_file_unit"):
            continue
        if rule != "rejected":
            tallies.setdefault(rule, Counter())["false"] += 1
    return [
        RuleScore(
            rule=rule, planted=t["planted"], found=t["found"], same_rule=t["same"],
            proposals=t["proposals"], proposals_right=t["right"], false=t["false"],
        )
        for rule, t in sorted(tallies.items())
    ]  # fmt: skip


def _effect_scores(connection: duckdb.DuckDBPyConnection, key: dict[str, Any]) -> list[EffectScore]:
    rows = connection.execute(read_sql("read/selftest_links.sql")).fetchall()
    per_kg = key["effects"]["exit_speed_total_per_kg"]
    return [
        EffectScore(
            name=f"exit speed per kg: {line or 'all'}",
            unit="m/s per kg",
            planted=per_kg["softball" if "softball" in line else "baseball"],
            recovered=estimate, low=low, high=high, n=n, note=verdict if not reason else f"{verdict}: {reason}",
        )
        for line, estimate, low, high, n, verdict, reason in rows
    ]  # fmt: skip


def _cohort_scores(connection: duckdb.DuckDBPyConnection, key: dict[str, Any]) -> list[EffectScore]:
    rows = connection.execute(read_sql("read/selftest_trends.sql")).fetchall()
    true = {s["stay_id"]: s["true"] for s in key["stays"]}
    inside: dict[str, list[tuple[float, float | None, float | None, float | None]]] = {}
    for stay_id, measure, change, low, high, share in rows:
        values = true.get(stay_id, {}).get(measure)
        if values is not None and change is not None:
            # The course is close to a straight line, and the tests span a part of the stay.
            inside.setdefault(measure, []).append(((values[1] - values[0]) * share, change, low, high))
    scores = []
    for measure, result in sorted(inside.items()):
        n = len(result)
        covered = sum(
            low <= truth <= high for truth, _, low, high in result if low is not None and high is not None
        )
        share = covered / n
        half = 1.96 * (0.95 * 0.05 / n) ** 0.5
        scores.append(
            EffectScore(
                name=f"change of {measure}", unit="share", planted=0.95,
                recovered=share, low=share - half, high=share + half, n=n, note="",
            )
        )  # fmt: skip
    return scores
