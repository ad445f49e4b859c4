"""Proposes how a motion file is read: which markers, angles or channels make which segment, who, when, which event."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import PurePath

from latewood.pipeline.catalogue.handles import PEAK_SPEEDS
from latewood.pipeline.catalogue.lookup import find_value
from latewood.pipeline.catalogue.model import NOT_STATED, Condition
from latewood.pipeline.catalogue.units import find_unit
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.files.mapping import Mapping as FileMapping
from latewood.pipeline.ingest.files.mapping import parse_mapping
from latewood.pipeline.ingest.files.motion import AXES, Motion, described
from latewood.pipeline.ingest.files.motion_options import FEWEST_MARKERS
from latewood.pipeline.ingest.files.reading import read_table
from latewood.pipeline.ingest.files.trace_cells import trace_cells
from latewood.pipeline.ingest.look import columns as col
from latewood.pipeline.ingest.look.motion_sides import NO_EVENT, Moment, SidedPlan, plainly, plan_sides
from latewood.pipeline.ingest.look.people import look_at_names
from latewood.pipeline.ingest.look.proposal import ASKED, LEAVE, LEFT, SURE, ColumnLook, Known, Proposal
from latewood.pipeline.ingest.look.sample import samples_of
from latewood.pipeline.ingest.look.write import PROPOSED, table_lines, text_lines
from latewood.pipeline.stats.movement.peak_order import CHAINS
from latewood.pipeline.warehouse.lookups import ids_of

# Names that many capture programs give to markers on the skin; common practice, no source.
MARKER_SETS = {
    "pelvis": ("RASI", "LASI", "RPSI", "LPSI", "RASIS", "LASIS", "RPSIS", "LPSIS", "SACR"),
    "torso": ("RSHO", "LSHO", "C7", "T10", "CLAV", "STRN"),
}
SEGMENT_WORDS = {
    "pelvis": ("pelvis", "hips"), "torso": ("torso", "trunk", "thorax", "chest"), "lead_arm": ("leadarm",),
    "upper_arm": ("upperarm", "humerus"), "forearm": ("forearm",), "hand": ("hand",), "bat": ("bat",),
}  # fmt: skip
ORDERS = ("ZXY", "ZYX", "XYZ", "XZY", "YXZ", "YZX")
DAYS = (
    (r"\d{4}-\d\d-\d\d", "%Y-%m-%d"),
    (r"\d\d\.\d\d\.\d{4}", "%d.%m.%Y"),
    (r"(?<!\d)20\d{6}(?!\d)", "%Y%m%d"),
)
MOST_ROUNDS = 4  # of questions that come up only when others are answered
RATE_OF = "its rate of change"
ACTIONS = {"swing": "swing", "hit": "swing", "throw": "throw", "pitch": "throw", "windmill": "windmill"}
EVENTS = {
    "contact": "contact",
    "impact": "contact",
    "release": "release",
    "strike": "foot plant",
    "plant": "foot plant",
}
CIRCUMSTANCES = ("action", "sensor", "event", "event: meaning")  # of a trial, whatever is read of it
MAGNITUDE_WORDS, ABOUT, ROOM = "all of it (magnitude)", "the part about {}", "the room"
ASKED_EACH = (
    "its name does not say what was done (swing, throw, windmill), so every such file is asked about anew"
)
NO_PARTS = (
    "no marker, angle or channel is named like a segment (pelvis, torso, upper arm ...); write a mapping by the import "
    "guide, section 7, into mappings/ and look again"
)
NO_DAY = "its name holds no day such as 2032-06-20; rename it (throw_2032-06-20_1.c3d) and look again"
NO_ATHLETE = "it names no subject and its name no athlete; put the athlete's id into the name and look again"


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentPlan:
    """How one segment is read: its table in the mapping (none for a channel of speed), its column and unit."""

    key: str
    column: str
    unit: str = "deg/s"
    table: Mapping[str, object] = field(default_factory=dict)
    turns: bool = False  # its rotation in three dimensions is known, not one angle or speed only


@dataclass(frozen=True, slots=True, kw_only=True)
class NamePlan:
    """What the file's name tells: its template for [trace], the form of its day, and whether it names the athlete."""

    template: str
    date_format: str
    names_athlete: bool
    athlete: str  # as the name writes it
    action: str  # '' where no word of it, or words of several, stand in the name


def look_at_motion(
    name: str, content: bytes, motion: Motion, known: Known, answers: Mapping[str, str]
) -> Proposal:
    """Return the proposal for a motion file; what names do not settle is asked, and nothing is taken unasked.

    While questions are open, its values and what else is asked are those that follow if these are answered as proposed.
    """
    result = shown = _looked(name, content, motion, known, answers)
    given = dict(answers)
    for _ in range(MOST_ROUNDS):
        likely = {q.key: q.proposed for q in shown.open if q.proposed}
        if not likely:
            break
        given |= likely
        shown = _looked(name, content, motion, known, given)
    if result is shown or shown.problem:
        return result
    asked = {q.key for q in result.questions}
    more = (replace(q, answer="") for q in shown.questions if q.key not in asked)
    return replace(result, samples=shown.samples, columns=shown.columns, questions=(*result.questions, *more))


def _looked(name: str, content: bytes, motion: Motion, known: Known, answers: Mapping[str, str]) -> Proposal:
    look = col.Look(known=known, names={}, answers=answers, decimal=".")
    segments, columns = _segments(motion, look)
    plan = _name_plan(name, known)
    base = Proposal(file_name=name, form=motion.form, notes=described(motion), columns=columns)
    problem = _problem(look, segments, plan, motion)
    if problem or plan is None:
        return replace(base, columns=(), problem=f"{name}: {problem}")
    if not plan.action:
        base = replace(base, notes=(*base.notes, ASKED_EACH))
    lines, sided = _mapping_lines(motion, segments, plan, look)
    made = tuple(sided.columns)
    base = replace(
        base, columns=(*(c for c in columns if not (c.certainty == LEFT and c.header in sided.used)), *made)
    )
    try:
        return _with_values(replace(base, kind="traces"), content, lines, look, waits=sided.possible)
    except LatewoodError as error:
        return replace(base, columns=(), problem=str(error))


def _problem(look: col.Look, segments: Sequence[SegmentPlan], plan: NamePlan | None, motion: Motion) -> str:
    if plan is None:
        return NO_DAY
    return "" if plan.names_athlete or motion.subjects else NO_ATHLETE


def _segments(motion: Motion, look: col.Look) -> tuple[list[SegmentPlan], tuple[ColumnLook, ...]]:
    plans: list[SegmentPlan] = []
    shown: list[ColumnLook] = []
    for measure in PEAK_SPEEDS:
        key = measure.removesuffix("_peak_speed")
        plan, looks = _from_numbers(key, motion, look)
        if plan is None and not looks:
            plan, looks = _from_markers(key, motion)
        plans += [plan] if plan else []
        shown += looks
    taken = {one.header for one in shown}
    shown += [
        _left(one)
        for one in (*motion.points, *motion.channels)
        if one not in taken and f"{one} x" not in taken
    ]
    return _turning(plans, look), tuple(shown)


def _turning(plans: Sequence[SegmentPlan], look: col.Look) -> list[SegmentPlan]:
    """What of a rotation in three dimensions counts, and within which other segment it is measured: both are asked."""
    full = [one for one in plans if one.turns]
    if not full:
        return list(plans)
    words = {MAGNITUDE_WORDS: "", **{ABOUT.format(axis): axis for axis in AXES}}
    text = "Which part of each segment's rotation counts: all of it, or that about one axis of the room?"
    about = words.get(look.ask("rotation", text, [*words], MAGNITUDE_WORDS), "")
    result, above = [], [""]
    for one in plans:
        more: dict[str, object] = {"about": about} if about and one in full else {}
        if one in full and "angles" in one.table and len(above) > 1:
            asked = f"Against what are the angles of {one.key.replace('_', ' ')} measured?"
            within = look.ask(f"{one.key}: within", asked, [ROOM, *above[1:]], "")
            more |= {"within": within} if within not in ("", ROOM) else {}
        above += [one.key] if one in full and "angles" in one.table else []
        result.append(replace(one, table={**one.table, **more}))
    return result


def _left(name: str) -> ColumnLook:
    reason = "named like no segment, or not needed"
    return ColumnLook(header=name, target="", certainty=LEFT, reason=reason, role="none")


def _from_numbers(key: str, motion: Motion, look: col.Look) -> tuple[SegmentPlan | None, list[ColumnLook]]:
    """A channel of speed, three angles, or one, that begin with a word for the segment."""
    names = {**{c: motion.units.get(c, "") for c in motion.channels}}
    for point in motion.points:
        if motion.units.get(point):
            names |= {f"{point} {axis}": motion.units[point] for axis in AXES}
    mine = {n: find_unit(u) for n, u in names.items() if u and plainly(n).startswith(SEGMENT_WORDS[key])}
    speeds = [n for n, u in mine.items() if u is not None and u.symbol in ("deg/s", "rad/s")]
    angles = [n for n, u in mine.items() if u is not None and u.symbol in ("deg", "rad")]
    measure = f"{key}_peak_speed"
    if len(speeds) == 1:
        unit = mine[speeds[0]]
        shown = ColumnLook(
            header=speeds[0], target=measure, unit=unit.symbol if unit else "", certainty=SURE, role="measure",
            reason="a speed by its unit, named like the segment",
        )  # fmt: skip
        return SegmentPlan(key=key, column=speeds[0], unit=shown.unit), [shown]
    if len(angles) not in (1, 3):
        return None, []
    return _from_angles(key, angles, look)


def _from_angles(
    key: str, angles: Sequence[str], look: col.Look
) -> tuple[SegmentPlan | None, list[ColumnLook]]:
    measure, words = f"{key}_peak_speed", ", ".join(angles)
    table: dict[str, object] = {"angles": [*angles]}
    if len(angles) == 3:
        text = f"In which order do the angles {words} turn (capitals: axes that move along)? Its documentation says."
        answer = look.ask(f"{key}: order", text, (*ORDERS, LEAVE), "")
        reason = f"three angles, order {answer}" if answer else "three angles; their order is asked"
        table["order"] = answer
    else:
        text = f"Is the speed of {key.replace('_', ' ')} the rate of the one angle {words}?"
        answer = look.ask(f"{key}: angle", text, (RATE_OF, LEAVE), RATE_OF)
        reason = "the rate of one angle, by your answer" if answer else "one angle only: asked"
    shown = [
        ColumnLook(header=one, target=measure, unit="deg/s", certainty=ASKED, reason=reason, role="measure")
        for one in angles
    ]
    plan = SegmentPlan(key=key, column=key, table=table, turns=len(angles) == 3)
    return (plan if answer not in ("", LEAVE) else None), shown


def _from_markers(key: str, motion: Motion) -> tuple[SegmentPlan | None, list[ColumnLook]]:
    wanted = {plainly(one) for one in MARKER_SETS.get(key, ())}
    mine = [one for one in motion.points if plainly(one) in wanted]
    named = re.compile(f"(?:{'|'.join(SEGMENT_WORDS[key])})[a-z]?\\d?")
    own = [one for one in motion.points if not motion.units.get(one) and named.fullmatch(plainly(one))]
    mine = own if len(own) >= FEWEST_MARKERS > len(mine) else mine
    if len(mine) < FEWEST_MARKERS:
        return None, []
    how = "named for" if mine is own else "with names usual for"
    reason = f"one of {len(mine)} markers {how} the {key.replace('_', ' ')}; its speed is the magnitude"
    shown = [
        ColumnLook(
            header=one,
            target=f"{key}_peak_speed",
            unit="deg/s",
            certainty=SURE,
            reason=reason,
            role="measure",
        )
        for one in mine
    ]
    return SegmentPlan(key=key, column=key, table={"markers": mine}, turns=True), shown


def _name_plan(name: str, known: Known) -> NamePlan | None:
    """The template of a file's name; None where it holds no day that can be read in one way only."""
    stem, ending = PurePath(name).stem, PurePath(name).suffix
    found = [
        (m, form) for pattern, form in DAYS for m in re.finditer(pattern, stem) if _is_day(m.group(), form)
    ]
    if len(found) != 1:
        return None
    match, form = found[0]
    parts = (stem[: match.start()] + "\n" + stem[match.end() :]).split("_")
    who = [at for at, part in enumerate(parts) if len(ids_of(part, known.names)) == 1]
    numbers = [at for at, part in enumerate(parts) if part.isdigit() and len(part) < 4 and at not in who]
    athlete = parts[who[0]] if len(who) == 1 else ""
    if len(who) == 1:
        parts[who[0]] = "{athlete}"
    if len(numbers) == 1:
        parts[numbers[0]] = "{trial}"
    template = "_".join(parts).replace("\n", "{measured_on}") + ending
    near = {value for word, value in ACTIONS.items() if word in template.casefold()}
    return NamePlan(
        template=template, date_format=form, names_athlete=len(who) == 1, athlete=athlete,
        action=next(iter(near)) if len(near) == 1 else "",
    )  # fmt: skip


def _is_day(text: str, form: str) -> bool:
    try:
        return bool(datetime.strptime(text, form))
    except ValueError:
        return False


def _condition(known: Known, key: str) -> Condition:
    measures = (known.catalogue.measures[one.replace("_speed", "_time")] for one in PEAK_SPEEDS)
    return next(c for measure in measures for c in measure.conditions if c.key == key)


def _mapping_lines(
    motion: Motion, segments: Sequence[SegmentPlan], plan: NamePlan, look: col.Look
) -> tuple[list[str], SidedPlan]:
    """The mapping, without the headers by which it is found again, and what of it is for one hand.

    Asks for action, sensor and event, and what the hand needs.
    """
    conditions = _conditions(plan, motion, look)
    word = _event(motion, look)
    if word:
        near = next((v for k, v in EVENTS.items() if k in word.casefold()), "")
        choices = [v for v in _condition(look.known, "event").values if v != NOT_STATED]
        meaning = near if find_value(_condition(look.known, "event"), near) else ""
        conditions["event"] = look.ask("event: meaning", f"What does {word!r} mark?", choices, meaning)
    moment = Moment(
        action=conditions["action"] or plan.action, athlete=_athlete(plan, motion, look.known),
        finish=_finish(word, conditions.get("event", ""), motion, look),
    )  # fmt: skip
    sided = plan_sides(motion, moment, [one.key for one in segments], look)
    fields = {"time": "Time", **({"event": f"Event: {word}"} if word else {})}
    if not plan.names_athlete:
        fields["athlete"] = "Subject"
    lines = [PROPOSED, *text_lines("name", f"Motion {plan.template}"), 'kind = "traces"', 'layout = "wide"']
    lines += text_lines("date_format", plan.date_format if plan.date_format != "%Y-%m-%d" else "")
    lines += ["HEADERS"] if plan.action else []
    trace = {"file_name": plan.template, **({"hand": sided.hand} if sided.hand else {})}
    lines += [*table_lines("columns", fields), *table_lines("trace", trace)]
    lines += table_lines("conditions", {k: v for k, v in conditions.items() if v})
    for one in segments:
        lines += table_lines(f"segments.{one.key}", one.table)
    for table, rule in sided.tables.items():
        lines += table_lines(table, rule)
    blocks = [(f"{one.key}_peak_speed", one.column, one.unit) for one in segments] + sided.values
    for measure, column, unit in blocks:
        lines += [
            "",
            "[[values]]",
            *table_lines("", {"measure": measure, "columns": [column], "unit": unit})[2:],
        ]
    return lines, sided


def _athlete(plan: NamePlan, motion: Motion, known: Known) -> str:
    """The id of whoever the file's name, else its subject, names; '' where nobody or several."""
    ids = ids_of(plan.athlete or (motion.subjects[0] if motion.subjects else ""), known.names)
    return ids[0] if len(ids) == 1 else ""


def _conditions(plan: NamePlan, motion: Motion, look: col.Look) -> dict[str, str]:
    action = look.ask("action", "What was done in this trial?", [*CHAINS], plan.action)
    sensors = [v for v in _condition(look.known, "sensor_class").values if v != NOT_STATED]
    seen = "optical" if motion.points and "optical" in sensors else ""
    sensor = look.ask("sensor", "How was it measured?", sensors, seen)
    return {"action": action, "sensor_class": sensor}


def _event(motion: Motion, look: col.Look) -> str:
    """The file's word for the event that times are counted from; '' without one."""
    words = list(dict.fromkeys(word for word, _ in motion.events))
    if not words:
        return ""
    text = "From which event are times counted?"
    answer = look.ask("event", text, (*words, NO_EVENT), _likely_event(words))
    return "" if answer == NO_EVENT else answer


def _likely_event(words: Sequence[str]) -> str:
    near = [w for w in words if any(k in w.casefold() and v != "foot plant" for k, v in EVENTS.items())]
    return near[0] if len(near) == 1 else words[0] if len(words) == 1 else ""


def _finish(word: str, meaning: str, motion: Motion, look: col.Look) -> str:
    """The word for release or contact; while it is asked, the likely one, so that what hangs on it is asked too."""
    if "event" not in look.answers:
        word = _likely_event([one for one, _ in motion.events])
    meaning = meaning or next((v for k, v in EVENTS.items() if k in word.casefold()), "")
    return word if meaning not in ("", "foot plant") else ""


def _with_values(
    base: Proposal, content: bytes, lines: Sequence[str], look: col.Look, *, waits: bool
) -> Proposal:
    """The proposal with its mapping, and the first values as they would be stored, once there are segments."""
    name, known = base.file_name, look.known
    text = "\n".join(line for line in lines if line != "HEADERS") + "\n"
    waits = waits or any(not q.taken for q in look.questions if q.key not in CIRCUMSTANCES)
    if "[[values]]" not in text and not waits:
        return replace(base, columns=(), kind="", problem=f"{name}: {NO_PARTS}")
    if "[[values]]" not in text:
        return replace(base, questions=tuple(look.questions), mapping_text=text)
    mapping: FileMapping = parse_mapping(text, name, known.catalogue)
    table = read_table(name, content, mapping.options)
    headers = text_lines("headers", list(table.headers))
    full = "\n".join(one for line in lines for one in (headers if line == "HEADERS" else [line])) + "\n"
    cells = trace_cells(name, table, mapping, known.catalogue)
    names, questions = look_at_names(list(cells.cells.frame["athlete_text"]), known, look.answers)
    return replace(
        base, questions=(*look.questions, *questions), names=tuple(names), mapping_text=full,
        samples=samples_of(cells.cells, mapping, known, names), notes=(*base.notes, *table.notes, *cells.notes),
    )  # fmt: skip
