"""What the command line prints: tables and sentences made from what was done and what is published."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
from rich.table import Column, Table

from latewood.pipeline.catalogue.lookup import find_measure
from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.errors import CatalogueError, DecisionError
from latewood.pipeline.ingest.files.landing import UNUSED
from latewood.pipeline.ingest.inputs import read_inputs
from latewood.pipeline.ingest.logs.audit import AuditLine
from latewood.pipeline.ingest.program import Program
from latewood.pipeline.warehouse.connection import read_sql
from latewood.pipeline.warehouse.rules import RULES

if TYPE_CHECKING:  # a command that only reads does not wait for what builds
    from latewood.pipeline.cli.demo import EffectScore, SelfTest
    from latewood.pipeline.ingest.actions import ImportOutcome
    from latewood.pipeline.ingest.build.run import BuildSummary


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """Shows the step under way, and prints it where there is no terminal to redraw."""

    show: Callable[[str], None]
    keep: Callable[[str], None] | None

    def note(self, step: str) -> None:
        """Say which step has begun."""
        self.show(step)
        if self.keep is not None:
            self.keep(f"… {step}")


def outcome_table(outcomes: Sequence[ImportOutcome], *, counted: bool) -> Table:
    """A row per file: what it was read as and what became of its rows."""
    table = Table("import", "file", "kind", "read by", "state", "rows", "taken", "held", "known")
    for o in outcomes:
        counts = (o.rows_taken, o.rows_held, o.rows_recognised) if counted else ("–", "–", "–")
        table.add_row(o.import_id, o.file_name, o.kind, o.mapping, o.state, *map(str, (o.rows_in, *counts)))
    return table


def outcome_notes(outcomes: Sequence[ImportOutcome], catalogue: Catalogue) -> list[str]:
    """What a steward should know beside the table: columns nobody read, guessed encodings, rows that wait."""
    keys = sorted({c.key for m in catalogue.measures.values() for c in m.conditions})
    lines = []
    for o in outcomes:
        for note in o.notes:
            if note.startswith(UNUSED):
                near = (
                    get_close_matches(c, keys, n=1, cutoff=0.75)
                    for c in note.removeprefix(UNUSED).split(", ")
                )
                meant = [m[0] for m in near if m]
                lines.append(
                    f"{o.file_name}: {note}" + (f" (did you mean {', '.join(meant)}?)" if meant else "")
                )
            elif "windows-1252" in note or note.startswith("traces: "):
                lines.append(f"{o.file_name}: {note}")
    held = sum(o.rows_held for o in outcomes)
    if held:
        lines.append(f"{held} {'row is' if held == 1 else 'rows are'} held for a decision: latewood held")
    return lines


def measure_table(catalogue: Catalogue, key: str) -> Table:
    """One measure: units, statistic, protocol, source, and every condition with its values."""
    measure = find_measure(catalogue, key)
    if measure is None:
        raise CatalogueError(f"{key}: no measure of that key or name; see `latewood measures`")
    table = Table(measure.key, measure.label)
    table.add_row("units", ", ".join(measure.accepted_units))
    table.add_row("session value", f"{measure.summary} of {measure.trials}: {measure.summary_reason}")
    table.add_row("possible range", f"{measure.hard_low:g} to {measure.hard_high:g} {measure.unit}")
    table.add_row("protocol", measure.protocol)
    for c in measure.conditions:
        must = " (must match)" if c.must_match else ""
        table.add_row(f"{c.key}{must}", f"{', '.join(c.values)}. {c.meaning}")
    table.add_row("source", measure.source)
    return table


def check_rule(rule: str) -> None:
    """Raise DecisionError where there is no rule of that name."""
    if rule and rule not in RULES:
        raise DecisionError(f"rule {rule!r} is not one of {', '.join(RULES)}")


def build_sentence(summary: BuildSummary) -> str:
    """One sentence on a build."""
    what = "nothing had changed; published is" if summary.unchanged else "published"
    return (
        f"{what} build {summary.build_id}: {summary.imports} imports, {summary.athletes} athletes, "
        f"{summary.readings} readings, {summary.held} rows held, {summary.seconds:.1f} s"
    )


def status_parts(connection: duckdb.DuckDBPyConnection, root: Path, program: Program) -> list[str | Table]:
    """What is published, how old it is, whether it is up to date, what came in and what waits."""
    row = connection.execute(read_sql("read/build.sql")).fetchone()
    build_id, made_at, athletes, readings, sessions, held = row or ("?", None, 0, 0, 0, 0)
    inputs = read_inputs(root)
    known = {r[0] for r in connection.execute("select import_id from import").fetchall()}
    waiting = [m for m in inputs.imports if m.import_id not in known]
    if inputs.build_id == build_id:
        fresh = "up to date"
    elif waiting:
        names = ", ".join(f"{m.file_name} ({m.import_id})" for m in waiting)
        fresh = f"without {names}: latewood build"
    else:
        fresh = "made before the last decision, setting or version of the program: latewood build"
    age = "" if made_at is None else f", made {_age(made_at)} ago"
    lines: list[str | Table] = [
        f"{program.name}{' (invented data)' if program.invented else ''}: {root}",
        f"build {build_id}{age}, {fresh}",
        f"{athletes} athletes, {sessions} sessions, {readings} readings, {held} rows held",
    ]
    table = Table("import", "file", "kind", "received", "rows", "taken", "held", "known", "rejected")
    table.columns[0].overflow = "fold"
    for r in connection.execute(read_sql("read/imports.sql")).fetchall():
        name = f"{r[1]} (withdrawn)" if r[9] else r[1]
        table.add_row(r[0], name, r[2], f"{r[3]:%Y-%m-%d} {r[10]}", *(str(x) for x in r[4:9]))
    return [*lines, table]


def _age(made_at: datetime) -> str:
    minutes = int((datetime.now(tz=UTC) - made_at).total_seconds() // 60)
    if minutes < 120:
        return f"{minutes} min"
    return f"{minutes // 60} h" if minutes < 60 * 48 else f"{minutes // 1440} days"


def _whole(header: str) -> Column:
    """A column that is never cut short: what stands in it is typed again."""
    return Column(header, overflow="fold")


def question_table(connection: duckdb.DuckDBPyConnection, rule: str, limit: int) -> Table:
    """One row per question that waits: how many rows it settles, an example, and what is proposed for it."""
    table = Table(
        _whole("group"), _whole("file"), "rows", "why (the first of them)", "proposal", "what can be done"
    )
    given = {"rule": rule, "limit": limit}
    for group, name, rows, key, why, proposal in connection.execute(
        read_sql("read/held_questions.sql"), given
    ).fetchall():
        table.add_row(group, name, str(rows), why, proposal or "", RULES[key].mend)
    return table


def held_table(
    connection: duckdb.DuckDBPyConnection, rule: str, limit: int, *, include_decided: bool
) -> Table:
    """The held rows, the question they share, and what is proposed."""
    given = {"rule": rule, "limit": limit, "decided": include_decided}
    table = Table(_whole("held row"), "rule", "athlete", "measure", "why", "proposal", "state")
    for row in connection.execute(read_sql("read/held.sql"), given).fetchall():
        table.add_row(*("" if cell is None else str(cell) for cell in row))
    return table


def athlete_table(connection: duckdb.DuckDBPyConnection, find: str) -> Table:
    """The athletes whose id or name holds the text."""
    table = Table("id", "name", "sport", "positions", "camps")
    for row in connection.execute(read_sql("read/athletes.sql"), {"find": find}).fetchall():
        table.add_row(*("" if cell is None else str(cell) for cell in row))
    return table


def selftest_parts(result: SelfTest) -> list[str | Table]:
    """The scores of a self-test: planted beside recovered, rules with recall and precision."""
    rules = Table(
        "data rule", "planted", "held", "by this rule", "right proposal", "held wrongly", title="Data rules"
    )
    for r in result.rules:
        proposals = f"{r.proposals_right} of {r.proposals}" if r.proposals else "–"
        rules.add_row(r.rule, str(r.planted), str(r.found), str(r.same_rule), proposals, str(r.false))
    return [
        rules,
        f"recall {result.recall:.3f}, precision {result.precision:.3f}",
        _effects("Planted and recovered", result.effects),
        _coverage(result.coverage),
    ]


def _effects(title: str, scores: Sequence[EffectScore]) -> Table:
    table = Table("what", "unit", "planted", "recovered", "low", "high", "n", "holds it", "note", title=title)
    for s in scores:
        numbers = ("–" if v is None else f"{v:.3f}" for v in (s.planted, s.recovered, s.low, s.high))
        held = {True: "yes", False: "no", None: "–"}[s.covers]
        table.add_row(s.name, s.unit, *numbers, str(s.n), held, s.note)
    return table


def _coverage(scores: Sequence[EffectScore]) -> Table:
    title = "Share of finished stays whose 95 % interval holds the planted change"
    table = Table("what", "stated", "found", "± (Monte Carlo)", "stays", title=title)
    for s in scores:
        half = 0.0 if s.high is None or s.recovered is None else s.high - s.recovered
        table.add_row(s.name, f"{s.planted:.2f}", f"{s.recovered:.3f}", f"{half:.3f}", str(s.n))
    return table


def audit_table(lines: Sequence[AuditLine]) -> Table:
    """A row per line of the audit log."""
    table = Table("line", "at", "event", "by", "details")
    for line in lines:
        details = ", ".join(f"{key} {value}" for key, value in line.details.items())
        table.add_row(str(line.number), line.at, line.event, line.who, details)
    return table
