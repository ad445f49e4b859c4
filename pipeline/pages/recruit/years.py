"""The line over years of somebody who came back: one value a camp, joined by the rules of the bridges only."""

from __future__ import annotations

from collections.abc import Sequence

from latewood.pipeline.pages.record import BridgeSupport, ProgramRecord, Value
from latewood.pipeline.pages.recruit.model import Year
from latewood.pipeline.pages.words import PrintScale, set_words, shown_name

NOT_BEFORE = "not measured in an earlier camp"
OTHERWISE = "measured otherwise in earlier camps, and no bridge joins the two ways"
NO_STAY = "the latest session lies outside a camp"


def years_of(
    record: ProgramRecord, scale: PrintScale, own: Sequence[Value], others: Sequence[Value]
) -> tuple[tuple[Year, ...], str]:
    """Return the last session of each camp in the line of the latest session, or none and why.

    `own` are the values of the line shown in order of date, `others` the same measure measured otherwise. A value
    measured otherwise counts only where a usable bridge put it on the same line, and stands on the scale of the latest
    session. Somebody with one stay gets neither line nor reason.
    """
    latest = own[-1]
    if len(record.camps.get(latest.athlete_id, ())) < 2:
        return (), ""
    if not latest.stay_id:
        return (), NO_STAY
    last: dict[str, Value] = {}
    joined = [v for v in (*others, *own) if v.stay_id and v.line == latest.line]
    for value in sorted(joined, key=lambda v: (v.held_on, v.own_line == latest.own_line)):
        last[value.stay_id] = value
    if len(last) > 1:
        return tuple(_year(record, scale, value, latest) for value in last.values()), ""
    elsewhere = any(v.stay_id and v.stay_id != latest.stay_id for v in others)
    return (), OTHERWISE if elsewhere else NOT_BEFORE


def _year(record: ProgramRecord, scale: PrintScale, value: Value, latest: Value) -> Year:
    moved = value.shift - latest.shift
    bridges = _bridges(record, value, latest)
    return Year(
        camp=shown_name(record.camp_of.get(value.stay_id, "")),
        held_on=value.held_on,
        typical=scale.rounded(value.value + moved),
        trials=value.trials,
        estimated_from=set_words(value.set_load, value.set_reps, scale),
        moved=scale.rounded(moved),
        moved_error=scale.rounded(sum(one.shift_se**2 for one in bridges) ** 0.5),
        pairs=min((one.pairs for one in bridges), default=0),
    )


def _bridges(record: ProgramRecord, value: Value, latest: Value) -> list[BridgeSupport]:
    """The bridges between the two ways of measuring: none, one, or two that meet on the joined line."""
    if value.own_line == latest.own_line:
        return []
    ways = [(value.measure, way, latest.line) for way in (value.own_line, latest.own_line)]
    return [record.bridges[way] for way in ways if way in record.bridges]
