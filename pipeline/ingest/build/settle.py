"""Decisions about held rows and imports: checked against what is published, written down, then built."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import duckdb

from latewood.pipeline import durable
from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.catalogue.units import convert, find_unit
from latewood.pipeline.errors import CatalogueError, DecisionError
from latewood.pipeline.ingest.build.run import BuildSummary, build
from latewood.pipeline.ingest.logs import decisions as decided
from latewood.pipeline.ingest.logs.audited import append_audited, note_late
from latewood.pipeline.ingest.logs.entered import all_imports
from latewood.pipeline.ingest.logs.joins import JOIN, check_join
from latewood.pipeline.ingest.program import Program, load_program, program_catalogue
from latewood.pipeline.warehouse.connection import open_published, read_sql

ROW_ACTIONS = ("accept", "correct", "reject", "assign", "exchange")
_WRITTEN = {"correct": "mend"}  # the word of the log, whose lines are never rewritten


def decide(
    root: Path, held: Sequence[str], answer: decided.Answer, *, build_after: bool = True
) -> BuildSummary | None:
    """Record a decision about held rows (ids, or ids of their groups) and build.

    accept takes the value as it stands, correct takes the proposal or, for one row, the answer's `value` in the
    row's own unit, reject leaves the row out, assign gives it to the athlete named in the answer, exchange
    gives each of two swapped values to the other athlete. Raises DecisionError where it cannot be carried out, or
    somebody has decided about these rows since.
    """
    if answer.action not in {*ROW_ACTIONS, *_WRITTEN.values()}:
        raise DecisionError(f"decision {answer.action!r} is not one of {', '.join(ROW_ACTIONS)}")
    action = _WRITTEN.get(answer.action, answer.action)
    with open_published(root) as connection:
        rows = connection.execute(read_sql("read/held_for_decision.sql"), {"ids": list(held)}).df()
        if answer.argument is not None:
            _check_athlete(connection, answer.argument)
    missing = sorted(set(held) - set(rows["held_id"]) - set(rows["group_id"]))
    if missing:
        raise DecisionError(f"{missing[0]}: no held row or group of that id; see `latewood held`")
    chosen = [{str(k): v for k, v in row.items()} for row in rows.to_dict("records")]
    if answer.value is not None:
        given = _given_value(chosen, action, answer.value, program_catalogue(root))
        targets = {str(chosen[0]["held_id"]): {"stage": _stage(chosen[0]), "argument": repr(given)}}
    else:
        targets = {str(row["held_id"]): _target(row, action, answer.argument) for row in chosen}
    written = "assign" if action == "exchange" else action
    record_decision(root, replace(answer, action=written), targets, load_program(root))
    return build(root) if build_after else None


def _check_changes(
    made: list[decided.Decision], action: str, targets: Mapping[str, Mapping[str, str]]
) -> None:
    if action == JOIN:
        for joined_id, given in targets.items():
            check_join(made, joined_id, given["argument"])
    elif (
        action not in {"withdraw", "restore", "reopen"} and targets and decided.stands(made, action, targets)
    ):
        raise DecisionError(
            f"nothing changes: {next(iter(targets))} was answered so before; give another answer"
        )


def _check_athlete(connection: duckdb.DuckDBPyConnection, athlete_id: str) -> None:
    if not connection.execute("select 1 from athlete where athlete_id = ?", [athlete_id]).fetchone():
        raise DecisionError(
            f"athlete {athlete_id!r} is not on any roster; give an athlete id such as those of `latewood athletes`"
        )


def _stage(row: Mapping[str, Any]) -> str:
    return {"correction": "correction", "date_ambiguous": "date"}.get(str(row["rule"]), "row")


def _given_value(rows: Sequence[Mapping[str, Any]], action: str, text: str, catalogue: Catalogue) -> float:
    """The canonical value of a corrected number, written in the unit of the row."""
    if len(rows) != 1 or action != "mend":
        raise DecisionError("a corrected value needs `correct` and exactly one held row")
    if rows[0]["rule"] == "date_ambiguous":
        raise DecisionError(
            f"{rows[0]['held_id']}: the question is about the day; settle it before the value"
        )
    measure = catalogue.measures.get(str(rows[0]["measure"]))
    unit = find_unit(str(rows[0]["raw_unit"])) if rows[0]["raw_unit"] else None
    if measure is None or (unit is None and len(measure.accepted_units) > 1):
        raise DecisionError(
            f"{rows[0]['held_id']}: measure or unit is not known, so a value cannot be read; correct the file"
        )
    try:
        number = convert(float(text), unit.symbol if unit else measure.unit, measure.unit)
    except (ValueError, CatalogueError) as error:
        raise DecisionError(
            f"value {text!r} is not a number; write it with a point, in the unit of the row"
        ) from error
    if not measure.hard_low <= number <= measure.hard_high:
        raise DecisionError(
            f"value {text!r} is outside the possible range of {measure.label.lower()}; check it"
        )
    return number


def _target(row: Mapping[str, Any], action: str, argument: str | None) -> dict[str, str]:
    held_id = row["held_id"]
    if action in {"assign", "exchange"}:
        return _assignment(row, action, argument)
    if action == "mend":
        if row["proposal"] not in {"value", "date", "replace"}:
            raise DecisionError(
                f"{held_id}: there is no proposed value to take; give one (--value), accept, assign or reject the row"
            )
        corrected = "" if row["proposal"] != "value" else repr(row["proposed_value"])
        return {"stage": _stage(row), "argument": corrected}
    if action == "reject" and row["rule"] == "date_ambiguous":
        return {"stage": "row"}
    if action == "accept" and not row["acceptable"]:
        raise DecisionError(
            f"{held_id}: cannot be taken as it is ({row['reason']}); correct the file, assign or reject it"
        )
    return {"stage": _stage(row)}


def _assignment(row: Mapping[str, Any], action: str, argument: str | None) -> dict[str, str]:
    held_id, rule = row["held_id"], str(row["rule"])
    if rule in {"people_row", "plan_start", "plan_second"}:
        raise DecisionError(
            f"{held_id}: a row of a people file is corrected in the file; import it again or reject the row"
        )
    if action == "exchange":
        if rule != "swapped_pair":
            raise DecisionError(f"{held_id}: only a pair that may be swapped can be exchanged; use assign")
        return {"stage": "row", "argument": str(row["proposed_text"]), "rule": rule}
    if argument is None:
        raise DecisionError(f"{held_id}: assign needs the id of the athlete")
    return {"stage": "row", "argument": argument, "rule": rule}


def undo(
    root: Path, decision_id: str, given: decided.Answer, *, build_after: bool = True
) -> BuildSummary | None:
    """Take an answer back, so that its rows are asked again, or a withdrawal, so that the file counts again.

    The decision stays on record; the action of what is given follows from it. Raises DecisionError where there is none
    of that id, or a later one is in its place.
    """
    made = decided.read(root / "decisions.jsonl")
    one = next((d for d in made if d.decision_id == decision_id), None)
    if one is None:
        raise DecisionError(f"{decision_id}: no decision of that id; see the decisions taken on Data")
    targets = decided.in_force(made).get(decision_id)
    if targets is None:
        raise DecisionError(f"{decision_id}: a later decision is in its place; take that one back")
    action = "restore" if one.action == "withdraw" else "reopen"
    seen = len(made) if given.seen is None else given.seen
    record_decision(root, replace(given, action=action, seen=seen), targets, load_program(root))
    return build(root) if build_after else None


def reopen(
    root: Path, names: Sequence[str], given: decided.Answer, *, build_after: bool = True
) -> BuildSummary | None:
    """Take back the answers on record about each name: an answer's id, a held row, a group, or a joined athlete id.

    The id of a withdrawal, or of the import it took out, brings that import back. Raises DecisionError where nothing
    that can be taken back has such a name; then nothing is written.
    """
    made = decided.read(root / "decisions.jsonl")
    withdrawn, asked = _named_answers(root, names, made)
    for action, targets in (("restore", withdrawn), ("reopen", asked)):
        if targets:
            answer = replace(
                given, action=action, seen=len(made) if action == "restore" or not withdrawn else None
            )
            record_decision(root, answer, targets, load_program(root))
    return build(root) if build_after else None


def _named_answers(
    root: Path, names: Sequence[str], made: list[decided.Decision]
) -> tuple[dict[str, Mapping[str, str]], dict[str, Mapping[str, str]]]:
    """The targets that the names mean, those of withdrawals apart."""
    current = decided.in_force(made)
    last = {
        target: (d, current[d.decision_id][target]) for d in made for target in current.get(d.decision_id, ())
    }
    withdrawn: dict[str, Mapping[str, str]] = {}
    asked: dict[str, Mapping[str, str]] = {}
    for name in names:
        targets = [*current.get(name, ()), *([name] if name in last else ())] or [
            one for one in _rows_of_group(root, name) if one in last
        ]
        if not targets:
            raise DecisionError(
                f"{name}: no answer of that id, row or group can be taken back; see `latewood decisions`"
            )
        for target in targets:
            decision, goes = last[target]
            (withdrawn if decision.action == "withdraw" else asked)[target] = goes
    return withdrawn, asked


def _rows_of_group(root: Path, group_id: str) -> list[str]:
    with open_published(root) as connection:
        rows = connection.execute("select held_id from held_row where group_id = ? order by all", [group_id])
        return [str(one) for (one,) in rows.fetchall()]


def record_decision(
    root: Path, answer: decided.Answer, targets: Mapping[str, Mapping[str, str]], program: Program
) -> None:
    """Write one decision to the decisions file of a data folder.

    Raises DecisionError, also where after the first `answer.seen` decisions one about the same targets was written.
    """
    path = root / "decisions.jsonl"
    with durable.locked(root / ".decisions.lock"):
        made = decided.read(path)
        if answer.seen is not None:
            decided.check_unchanged(made, targets.keys(), answer.seen)
        _check_changes(made, answer.action, targets)
        decision = decided.new_decision(answer, targets, at=program.now().isoformat(), position=len(made))
        if made:
            note_late(root, "decision", made[-1].decided_by, _sentence(made[-1]))
        append_audited(root, path, asdict(decision), answer.who, _sentence(decision))


def _sentence(decision: decided.Decision) -> dict[str, str | int | bool]:
    return {"decision": decision.decision_id, "action": decision.action, "rows": len(decision.targets)}


def withdraw(
    root: Path, import_id: str, who: str, why: str, *, build_after: bool = True
) -> BuildSummary | None:
    """Take the rows of an import out of the warehouse; file, manifest and this decision stay.

    Raises DecisionError where there is no such import or it is withdrawn already.
    """
    if all(m.import_id != import_id for m in all_imports(root)):
        raise DecisionError(f"{import_id}: no import of that id; see `latewood status`")
    made = decided.read(root / "decisions.jsonl")
    if import_id in decided.withdrawn_imports(made):
        raise DecisionError(f"{import_id}: was withdrawn before; import the file again to restore it")
    answer = decided.Answer(action="withdraw", who=who, why=why, seen=len(made))
    record_decision(root, answer, {import_id: {}}, load_program(root))
    return build(root) if build_after else None
