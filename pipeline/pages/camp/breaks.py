"""Where the way of measuring changed against the camp before: not comparable, or joined by a measured offset."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from latewood.pipeline.pages.camp.record import BridgeRow, CampRecord, CampRow, WayRow
from latewood.pipeline.pages.words import joined, scale_of

FEWEST = 3  # a way used by one or two athletes is a person's own bat, not a change of the camp's method


def method_breaks(record: CampRecord, measures: Sequence[str], units: str) -> tuple[str, ...]:
    """Return a sentence for each measure taken in this camp in ways that the camp before it did not use."""
    result = []
    for measure in dict.fromkeys(measures):
        ways = [way for way in record.ways if way.measure == measure]
        before = _camp_before(record, ways)
        if before is not None:
            result += _sentences(record, measure, ways, before, units)
    return tuple(result)


def _camp_before(record: CampRecord, ways: Sequence[WayRow]) -> CampRow | None:
    used = {way.camp_id for way in ways}
    earlier = [
        camp for camp in record.camps if camp.camp_id in used and camp.starts_on < record.camp.starts_on
    ]
    return max(earlier, key=lambda camp: camp.starts_on) if earlier else None


def _sentences(
    record: CampRecord, measure: str, ways: Sequence[WayRow], before: CampRow, units: str
) -> list[str]:
    here, there = (
        {w.own_line: w for w in ways if w.camp_id == c} for c in (record.camp.camp_id, before.camp_id)
    )
    fresh = [way for key, way in here.items() if key not in there and way.n >= FEWEST]
    gone = [way for key, way in there.items() if key not in here and way.n >= FEWEST]
    if not fresh or not gone:  # only more or fewer of the same ways: nothing was changed over
        return []
    label = record.catalogue.measures[measure].label
    text, broken = [], []
    for way in fresh:
        bridge = _bridge(record, way, there)
        if bridge is None:
            broken.append(way)
        else:
            words, offset = _words(record, measure, way), _offset(record, bridge, units)
            text.append(f"{label} ({words}): joined with {before.label} by {offset}.")
    if broken:
        new, old = (joined(sorted(_words(record, measure, way) for way in some)) for some in (broken, gone))
        text.append(f"{label}: here {new}; in {before.label} {old}. Not comparable, never joined.")
    return text


def _bridge(record: CampRecord, way: WayRow, there: dict[str, WayRow]) -> BridgeRow | None:
    for one in record.bridges:
        lines = {one.from_line, one.to_line}
        if one.measure == way.measure and way.own_line in lines and lines & set(there):
            return one
    return None


def _offset(record: CampRecord, bridge: BridgeRow, units: str) -> str:
    scale = scale_of(record.catalogue.measures[bridge.measure], units)
    wide = replace(scale, decimals=max(1, scale.decimals))
    shift, error = wide.signed(wide.rounded(bridge.shift)), wide.text(wide.rounded(bridge.shift_se))
    return (
        f"an offset of {shift} ± {error} {scale.unit} from {bridge.n_pairs} athletes measured both ways; its error "
        "is counted"
    )


def _words(record: CampRecord, measure: str, way: WayRow) -> str:
    return record.labels.get((measure, way.own_line), "") or "no conditions stated"
