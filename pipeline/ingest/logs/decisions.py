"""The decisions file: what the steward decided about held rows and imports, one JSON line each, only added to."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

from latewood.pipeline.errors import DecisionError

_MADE_ORDER = ("stage", "argument", "rule")
ACTIONS = ("accept", "mend", "reject", "assign", "withdraw", "restore", "reopen", "join")


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """One decision: what, about which rows, by whom, when and why.

    `targets` maps a held row (import_id:row:field) to what goes with it: `stage` ('row', 'date' where its day
    was the question, or 'correction' where a value already there is concerned), `argument` (the value taken by
    `mend`, the athlete of `assign`) and, for `assign`, the `rule` that had held the row. For withdraw and restore
    the only key is the import_id. `reopen` takes back the answers to its held rows: they are asked again. Of `join`
    the key is an athlete's id and `argument` the id as which it is read from then on (see `joins`).
    """

    decision_id: str
    decided_at: str
    decided_by: str
    action: str
    targets: Mapping[str, Mapping[str, str]]
    why: str

    def argument_text(self, target: str) -> str:
        """What goes with one target: a value, an athlete, or nothing."""
        return self.targets[target].get("argument", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What somebody decides about rows or an import, and why.

    `argument` is the athlete of `assign`, `value` the number that is right, and `seen` how many decisions there were
    when the question was looked at.
    """

    action: str
    who: str
    why: str
    argument: str | None = None
    value: str | None = None
    seen: int | None = None


def new_decision(
    answer: Answer, targets: Mapping[str, Mapping[str, str]], *, at: str, position: int
) -> Decision:
    """Return a decision ready to be written.

    Raises DecisionError where the action is unknown, nothing is named, or who or why is missing.
    """
    action, who, why = answer.action, answer.who.strip(), answer.why.strip()
    if action not in ACTIONS:
        raise DecisionError(f"decision {action!r} is not one of {', '.join(ACTIONS)}")
    if not targets:
        raise DecisionError("no row was named; give a held row, a group or an import id")
    if not who or not why:
        raise DecisionError("a decision needs who decided and why; give both")
    reported = [position, action, targets, who, why, at]
    return Decision(
        decision_id=_id_of(json.dumps(reported, ensure_ascii=False, sort_keys=True)),
        decided_at=at,
        decided_by=who,
        action=action,
        targets=dict(sorted(targets.items())),
        why=why,
    )


def _id_of(body: str) -> str:
    return hashlib.sha256(body.encode()).hexdigest()[:12]


def fits(one: Decision, position: int) -> bool:
    """Whether a decision's id still belongs to what stands in it.

    Earlier versions hashed what goes with a target in the order in which it was made, and the file keeps it sorted.
    """
    answer = Answer(action=one.action, who=one.decided_by, why=one.why)
    again = new_decision(answer, one.targets, at=one.decided_at, position=position)
    if again.decision_id == one.decision_id:
        return True
    made = {t: {k: g[k] for k in _MADE_ORDER if k in g} for t, g in sorted(one.targets.items())}
    if made != one.targets:
        return False
    reported = [position, one.action, made, one.decided_by, one.why, one.decided_at]
    return _id_of(json.dumps(reported, ensure_ascii=False)) == one.decision_id


def read(path: Path) -> list[Decision]:
    """All decisions in the order in which they were made.

    A last line without its end (power lost while writing) is left out: that decision was never confirmed.
    Raises DecisionError naming the line that cannot be read.
    """
    if not path.exists():
        return []
    full, _, _ = path.read_bytes().rpartition(b"\n")
    decisions = []
    for number, line in enumerate(full.splitlines(), start=1):
        if not line.strip():
            continue
        try:
            decisions.append(_decision(json.loads(line)))
        except (ValueError, TypeError, RecursionError) as error:
            raise DecisionError(
                f"{path.name}, line {number}: cannot be read ({error}); restore the file from a backup"
            ) from error
    return decisions


def _decision(raw: dict[str, object]) -> Decision:
    """One line as a decision; raises ValueError or TypeError where a field is missing or of another kind."""
    made = Decision(**raw)  # type: ignore[arg-type]  # each is looked at here
    texts = (made.decision_id, made.decided_at, made.decided_by, made.action, made.why)
    if not all(isinstance(one, str) for one in texts) or not isinstance(made.targets, dict):
        raise TypeError("a field is of another kind than was written")
    for given in made.targets.values():
        if not isinstance(given, dict) or not all(isinstance(one, str) for one in given.values()):
            raise TypeError("a target is of another kind than was written")
    return made


def last_on(decisions: list[Decision], targets: Collection[str]) -> Decision | None:
    """The last decision about any of these held rows or imports."""
    return next((d for d in reversed(decisions) if not d.targets.keys().isdisjoint(targets)), None)


def check_unchanged(decisions: list[Decision], targets: Collection[str], seen: int) -> None:
    """Raise DecisionError where somebody has decided about these targets since they were looked at.

    `seen` is how many decisions there were then: the file is only added to, so the later ones follow.
    """
    last = last_on(decisions[seen:], targets)
    if last is not None:
        raise DecisionError(
            f"{last.decided_by} has decided about this meanwhile ({last.action}, {last.decided_at}: {last.why}); "
            "nothing of yours was written; look at it again and answer anew if you still mean it"
        )


def digest(decisions: list[Decision]) -> str:
    """A hash over all decisions in order."""
    text = "".join(json.dumps(asdict(d), ensure_ascii=False, sort_keys=True) for d in decisions)
    return hashlib.sha256(text.encode()).hexdigest()


def withdrawn_imports(decisions: list[Decision]) -> frozenset[str]:
    """The imports whose last word is `withdraw`."""
    last = {
        target: d.action for d in decisions if d.action in {"withdraw", "restore"} for target in d.targets
    }
    return frozenset(target for target, action in last.items() if action == "withdraw")


def row_decisions(decisions: list[Decision]) -> dict[tuple[str, str], tuple[str, str]]:
    """The last accept, mend or reject of each (held row, stage): action and argument.

    Who gives a rejected row to an athlete takes the rejection back: the last answer counts.
    """
    answers: dict[tuple[str, str], tuple[str, str]] = {}
    for d in decisions:
        for held, given in d.targets.items():
            at = held, given.get("stage", "row")
            if d.action in {"accept", "mend", "reject"}:
                answers[at] = d.action, given.get("argument", "")
            elif d.action == "reopen" or (d.action == "assign" and answers.get(at, ("", ""))[0] == "reject"):
                answers.pop(at, None)
    return answers


def stands(decisions: list[Decision], action: str, targets: Mapping[str, Mapping[str, str]]) -> bool:
    """Whether the decisions give this answer to each of these held rows already, as the last one."""
    answered = row_decisions(decisions)
    if action == "assign":
        assigned = assignments(decisions)
        return all(
            held in assigned
            and assigned[held][0] == g.get("argument", "")
            and answered.get((held, g.get("stage", "row")), ("", ""))[0] != "reject"
            for held, g in targets.items()
        )
    return all(
        answered.get((held, g.get("stage", "row"))) == (action, g.get("argument", ""))
        for held, g in targets.items()
    )


def assignments(decisions: list[Decision]) -> dict[str, tuple[str, str]]:
    """The athlete to whom a held row was last assigned, and the rule that had held it."""
    result: dict[str, tuple[str, str]] = {}
    for d in decisions:
        for held, given in d.targets.items():
            if d.action == "assign":
                result[held] = given.get("argument", ""), given.get("rule", "unknown_athlete")
            elif d.action == "reopen":
                result.pop(held, None)
    return result


def in_force(decisions: list[Decision]) -> dict[str, Mapping[str, Mapping[str, str]]]:
    """The answers and withdrawals that can be taken back, by id: each with the targets it is the last word on."""
    last = {target: d for d in decisions for target in d.targets}
    result: dict[str, Mapping[str, Mapping[str, str]]] = {}
    for d in decisions:
        current = {target: given for target, given in d.targets.items() if last[target] is d}
        if current and d.action not in {"reopen", "restore"}:
            result[d.decision_id] = current
    return result
