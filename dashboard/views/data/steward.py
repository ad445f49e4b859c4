"""What waits for the data steward: held rows as questions, imports, decisions taken."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from latewood.dashboard.reads.rows import Build, BuildRow, DecisionRow, HeldRow, ImportRow
from latewood.dashboard.text.wording import count_of, full_day, joined, plain_number, with_unit
from latewood.pipeline.ingest.consent.agreed import Unplaced
from latewood.pipeline.ingest.logs.decisions import Decision, in_force
from latewood.pipeline.stats.change.results import NotComputed
from latewood.pipeline.warehouse.rules import RULES, UNREADABLE

UNPLACED = "Consent withdrawn for nobody on the roster"
SETTLE = (
    "Until this is settled a consent may stay given that was withdrawn: find out who is meant, withdraw their consent, "
    "then reject the row with the reason."
)
MENDABLE = {"value", "date", "replace"}
FEW_ROWS = 2  # of a question: so few say in its heading what came


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldLine:
    """One held row as shown."""

    held_id: str
    where: str
    who: str
    what: str
    raw: str
    reason: str
    proposal: str
    file_name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Rows that one answer settles together."""

    key: str
    rule: str
    title: str
    about: str
    lines: tuple[HeldLine, ...]
    held_ids: tuple[str, ...]
    target: str  # the group's id where the rows form one, '' where they are named one by one
    proposal: str
    can_fix: bool
    needs_athlete: bool
    what_to_do: str = ""


NUMBERS = {
    "impossible_jump", "out_of_range", "unreadable_value", "no_value", "unit_slip", "lost_point", "height_falls",
    "false_start", "split_order", "sentinel", "copy_down",
}  # fmt: skip


def offered_answers(asked: Question) -> list[str]:
    """The answers that can settle this question: an exchange for a pair, a right value for a single number."""
    answers = ["exchange"] if asked.rule == "swapped_pair" else []
    answers += ["mend"] if asked.can_fix else []
    answers += ["reject"] if asked.rule in UNREADABLE else ["accept", "reject"]
    answers += [] if asked.rule == "swapped_pair" else ["assign"]
    return [*answers, "correct"] if len(asked.held_ids) == 1 and asked.rule in NUMBERS else answers


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """The page: questions by rule, and the words of the empty state."""

    questions: tuple[Question, ...]
    head: str
    n_rows: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportLine:
    """One imported file."""

    import_id: str
    file_name: str
    label: str
    kind: str
    received: str
    rows: str
    state: str
    withdrawn: bool


def build_desk(
    held: Iterable[HeldRow],
    imports: Iterable[ImportRow],
    measure_labels: Mapping[str, str],
    names: Mapping[str, str],
) -> Desk:
    """The questions, those that settle most rows first within each rule."""
    groups: dict[tuple[str, str], list[HeldRow]] = {}
    for row in held:
        groups.setdefault((row.rule, row.group_id or row.held_id), []).append(row)
    questions = [
        _question(rule, key, result, measure_labels, names) for (rule, key), result in groups.items()
    ]
    questions.sort(key=lambda q: (-len(q.lines), q.rule, q.key))
    n_rows = sum(len(q.lines) for q in questions)
    return Desk(questions=tuple(questions), head=_head(questions, n_rows, tuple(imports)), n_rows=n_rows)


def _head(questions: list[Question], n_rows: int, imports: tuple[ImportRow, ...]) -> str:
    if questions:
        requested = f"{count_of(len(questions), 'question')} about {count_of(n_rows, 'row')}"
        return f"{requested}. Held rows are kept as they came and count in no result until you answer."
    if not imports:
        return "Nothing waiting. No file has been imported yet."
    last = max(imports, key=lambda row: row.received_at)
    return (
        f"Nothing waiting. Last import {moment(last.received_at)}: {last.file_name}, "
        f"{count_of(last.rows_in, 'row')}, {last.rows_taken:,} taken."
    )


def moment(at: datetime) -> str:
    """A time as date and clock."""
    return f"{full_day(at.date())} {at:%H:%M}"


def _question(
    rule: str, key: str, found: list[HeldRow], labels: Mapping[str, str], names: Mapping[str, str]
) -> Question:
    lines = tuple(_line(row, labels, names) for row in found)
    proposals = list(dict.fromkeys(line.proposal for line in lines if line.proposal))
    grouped = found[0].group_id is not None
    return Question(
        key=key,
        rule=rule,
        title=rule_title(rule),
        about=_about(lines, {row.measured_on for row in found}),
        lines=lines,
        held_ids=tuple(line.held_id for line in lines),
        target=found[0].group_id or "" if grouped else "",
        proposal=proposals[0] if len(proposals) == 1 else ("as listed for each row" if proposals else ""),
        can_fix=all(row.proposal in MENDABLE for row in found),
        needs_athlete=rule in {"unknown_athlete", "same_name", "swapped_pair"},
        what_to_do=_what_to_do(rule),
    )


def rule_title(rule: str) -> str:
    """What a rule found, in words."""
    return RULES[rule].title if rule in RULES else rule.replace("_", " ").capitalize()


def _what_to_do(rule: str) -> str:
    """What settles it, as a sentence; '' of a rule without words."""
    fix = RULES[rule].mend if rule in RULES else ""
    return f"{fix[:1].upper()}{fix[1:]}." if fix else ""


def _about(lines: tuple[HeldLine, ...], days: set[date | None]) -> str:
    """Whom a question is about (the file where there are several), which measure or day, what came or how many rows."""
    one_thing = len(lines) <= FEW_ROWS and len({line.what for line in lines}) == 1
    names, whats = {line.who for line in lines}, {line.what for line in lines}
    files = sorted({line.where.rpartition(", line ")[0] for line in lines})
    parts = [names.pop() if len(names) == 1 else ", ".join(files)]
    parts += [whats.pop()] if len(whats) == 1 else [full_day(day) for day in days if day and len(days) == 1]
    came = [f"{line.raw} → {line.proposal}" if line.proposal else line.raw for line in lines]
    return ", ".join([*parts, joined(came) if one_thing else count_of(len(lines), "row")])


def rules_waiting(desk: Desk) -> dict[str, str]:
    """Each rule that has open questions, with its words and how many rows; '' stands for all."""
    result: dict[str, int] = {}
    for question in desk.questions:
        result[question.rule] = result.get(question.rule, 0) + len(question.lines)
    labels = {rule: f"{rule_title(rule)} ({count_of(n, 'row')})" for rule, n in result.items()}
    return {"": f"All ({count_of(desk.n_rows, 'row')})", **labels}


def of_rule(desk: Desk, rule: str) -> tuple[Question, ...]:
    """The questions of one rule, or all where it is ''."""
    return tuple(question for question in desk.questions if rule in {"", question.rule})


def files_waiting(questions: Iterable[Question]) -> dict[str, str]:
    """Each file that has open rows, with how many; '' stands for all."""
    result: dict[str, int] = {}
    for question in questions:
        for line in question.lines:
            result[line.file_name] = result.get(line.file_name, 0) + 1
    labels = {name: f"{name} ({count_of(n, 'row')})" for name, n in sorted(result.items())}
    return {"": "All files", **labels}


def of_file(questions: Iterable[Question], file_name: str) -> tuple[Question, ...]:
    """The questions with a row of one file, or all where it is ''."""
    return tuple(
        one for one in questions if not file_name or any(row.file_name == file_name for row in one.lines)
    )


def holding(questions: Iterable[Question], words: str) -> tuple[Question, ...]:
    """The questions with a row whose athlete, file, measure or text as it came holds these words; all for ''."""
    sought = words.strip().casefold()
    return tuple(
        question
        for question in questions
        if any(sought in f"{row.who} {row.where} {row.what} {row.raw}".casefold() for row in question.lines)
    )


def _line(row: HeldRow, labels: Mapping[str, str], names: Mapping[str, str]) -> HeldLine:
    measure = labels.get(row.measure or "", row.measure or row.field)
    on = f", {full_day(row.measured_on)}" if row.measured_on is not None else ""
    proposal = row.proposed_text or ""
    if not proposal and row.proposed_value is not None:
        proposal = plain_number(row.proposed_value, 2)
    return HeldLine(
        held_id=row.held_id,
        where=f"{row.file_name}, line {row.row_no}",
        who=names.get(row.athlete_id or "") or row.athlete_text or "nobody named",
        what=f"{measure}{on}",
        raw=with_unit(row.raw_value or "(blank)", row.raw_unit or ""),
        reason=row.reason,
        proposal=proposal,
        file_name=row.file_name,
    )


def build_imports(imports: Iterable[ImportRow]) -> tuple[ImportLine, ...]:
    """The imported files, the latest first."""
    return tuple(_import_line(row) for row in imports)


def _import_line(row: ImportRow) -> ImportLine:
    parts = [f"{row.rows_taken:,} of {row.rows_in:,} taken"]
    others = (
        (row.rows_held, "held"),
        (row.rows_recognised, "already known or blank"),
        (row.rows_rejected, "rejected"),
    )
    parts += [f"{n:,} {word}" for n, word in others if n]
    return ImportLine(
        import_id=row.import_id,
        file_name=row.file_name,
        label=f"{row.file_name} ({row.kind}, {row.import_id})",
        kind=row.kind,
        received=f"{moment(row.received_at)} by {row.received_by}; {row.mapping}",
        rows=", ".join(parts),
        state="withdrawn" if row.withdrawn else "in use",
        withdrawn=row.withdrawn,
    )


ACTION_WORDS = {"mend": "correct to", "reopen": "taken back"}
_DONE = {
    "accept": "taken as it stands",
    "mend": "corrected",
    "reject": "left out",
    "assign": "given to",
    "withdraw": "withdrawn",
    "join": "joined into",
}


def build_undoable(
    made: Sequence[Decision], files: Mapping[str, str], names: Mapping[str, str]
) -> dict[str, str]:
    """The answers and withdrawals that can be taken back, the latest first: what each was, by its id.

    `files` names the file of an import, `names` the athletes.
    """
    current = in_force(list(made))
    return {
        one.decision_id: _undo_label(one, current[one.decision_id], files, names)
        for one in reversed(made)
        if one.decision_id in current
    }


def _undo_label(
    one: Decision,
    targets: Mapping[str, Mapping[str, str]],
    files: Mapping[str, str],
    names: Mapping[str, str],
) -> str:
    ids = list(dict.fromkeys(target.partition(":")[0] for target in targets))
    places = ", ".join(dict.fromkeys(files.get(i, i) for i in ids))
    who = ""
    if one.action in {"assign", "join"}:
        given = dict.fromkeys(goes.get("argument", "") for goes in targets.values())
        who = " " + ", ".join(names.get(i, i) for i in given)
    rows = "" if one.action in {"withdraw", "join"} else f"{count_of(len(targets), 'row')} of "
    at = moment(datetime.fromisoformat(one.decided_at))
    return f"{at}, {one.decided_by}: {rows}{places} {_DONE[one.action]}{who} ({one.why})"


def build_decisions(decisions: Iterable[DecisionRow]) -> list[dict[str, str]]:
    """When and who, what, on which target, why: one row per decision as label and text."""
    return [
        {
            "When and who": f"{moment(row.decided_at)}, {row.decided_by}",
            "Decision": ACTION_WORDS.get(row.action, row.action)
            + (f" {row.argument}" if row.argument else ""),
            "About": row.target + ("" if row.applied else " (no longer there)"),
            "Why": row.why,
        }
        for row in decisions
    ]


def places_of(rows: Iterable[Unplaced]) -> str:
    """File and line of each withdrawal of consent that fits nobody."""
    return "; ".join(f"{one.file_name}, line {one.row_no}" for one in rows)


def build_unplaced(rows: Sequence[Unplaced]) -> tuple[str, ...]:
    """One alarm for each withdrawal of consent that fits nobody, with the name that stands in the row."""
    return tuple(
        f"{one.file_name}, line {one.row_no}: a consent is withdrawn for {one.name!r} ({one.day}), who is not on the "
        f"roster. {SETTLE}"
        for one in rows
    )


def build_status(build: Build) -> tuple[tuple[str, str], ...]:
    """What is published, as label and value."""
    return (
        ("Published", moment(build.made_at)),
        ("Build", build.build_id[:12]),
        ("Athletes", f"{build.n_athletes:,}"),
        ("Readings", f"{build.n_readings:,}"),
        ("Rows waiting", f"{build.n_open:,}"),
        ("Checked by an independent program", _checked(build)),
    )


def build_difference(before: BuildRow | None, now: BuildRow) -> str:
    """What a build that has just been published changed, in one line."""
    if before is None:
        return f"Published: {count_of(now.n_readings, 'reading')} of {count_of(now.n_athletes, 'athlete')}."
    changes = [
        _more_or_fewer(now.n_readings - before.n_readings, "reading"),
        _more_or_fewer(now.n_open - before.n_open, "row waiting", "rows waiting"),
        _more_or_fewer(now.n_athletes - before.n_athletes, "athlete"),
    ]
    text = ", ".join(one for one in changes if one) or "as many readings, rows waiting and athletes as before"
    return f"The new results are published: {text}."


def _more_or_fewer(n: int, one: str, many: str = "") -> str:
    if n == 0:
        return ""
    return f"{count_of(abs(n), one, many or f'{one}s')} {'more' if n > 0 else 'fewer'}"


def _checked(build: Build) -> str:
    if build.largest_difference is None:
        return "no fits"
    return (
        f"{build.n_checked:,} fits, largest difference {build.largest_difference:.1g} of their standard error"
    )


def build_left_out(rows: Iterable[NotComputed], labels: Mapping[str, str]) -> tuple[str, ...]:
    """One line for each estimate that the build could not make, after a line that the rest stands."""
    lines = [f"{labels.get(row.measure, 'All measures')}, {row.step}: {row.reason}." for row in rows]
    return ("Everything but this was computed:", *lines) if lines else ()
