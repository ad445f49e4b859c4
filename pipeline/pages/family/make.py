"""Makes the family page of one athlete from the record of a build: pure, and where its rules are kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.model import Better
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.consent.agreed import Consent
from latewood.pipeline.ingest.consent.health import word_of_health
from latewood.pipeline.ingest.logs.focus import Focus
from latewood.pipeline.pages.family import model
from latewood.pipeline.pages.record import FAMILIES, ProgramRecord, TrendRow, Value, may_be_shown
from latewood.pipeline.pages.words import PrintScale, scale_of, set_words, shown_name, size_text
from latewood.pipeline.stats.change.verdict import clear_at

MOST = 5
SMALL_Z = 0.05  # a change so near to nothing says little of its own error
THROWS = (handles.THROW_SPEED, handles.PITCH_SPEED, handles.WINDMILL_PITCH_SPEED, handles.POP_TIME)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdicts:
    """What a build says of changes: verdict and z of a trend by stay, measure and line, and a line's noise.

    The noise is what two test days of an unchanged athlete differ by, by measure and line, in the canonical unit.
    """

    of_trends: Mapping[tuple[str, str, str], tuple[str, float | None]]
    noise: Mapping[tuple[str, str], float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyAthlete:
    """The athlete of a page: what was agreed to, what was written as their focus, and the names of their camps."""

    athlete_id: str
    consent: Consent
    focus: Sequence[Focus]
    hides_mass: bool
    camp_of: Mapping[str, str]  # stay to the name of its camp


def make_family(
    record: ProgramRecord, athlete: FamilyAthlete, verdicts: Verdicts, units: str
) -> model.Family:
    """Return the page of one athlete's latest stay.

    Up to five measures, taken in turn from hitting and throwing, running, strength and jumps, in the order of the
    catalogue: what came out plays no part. Body mass only where the consent names it and the athlete has not hidden
    it. Raises SummaryError where no measure has been tested.
    """
    athlete_id, consent = athlete.athlete_id, athlete.consent
    values = [v for v in record.values.get(athlete_id, ()) if v.stay_id]
    if not values:
        raise SummaryError(
            "nothing was tested in a stay of this athlete; there is nothing to put on the page"
        )
    stay_id = max(values, key=lambda v: v.held_on).stay_id
    own = [v for v in values if v.stay_id == stay_id]
    rails = tuple(_rail(record, line, own, verdicts, units) for line in _chosen(record, own, consent))
    if not rails:
        raise SummaryError("no measure is left to show: none is both tested in the latest stay and agreed to")
    body = _body(record, own, consent, units, hide_mass=athlete.hides_mass)
    mass = record.catalogue.measures[handles.BODY_MASS].label
    return model.Family(
        schema=model.SCHEMA,
        units=units,
        program=shown_name(record.program_name),
        contact=shown_name(record.program.contact, 160) or shown_name(record.program_name),
        invented=record.invented,
        name=shown_name(consent.name_shown or record.athletes[athlete_id].display_name) or "the athlete",
        camp=shown_name(athlete.camp_of.get(stay_id, "")),
        first_on=min(v.held_on for v in own),
        last_on=max(v.held_on for v in own),
        rails=rails,
        body=body,
        next_step=_next_step(record, athlete.focus, own),
        throws=any(rail.key in THROWS for rail in rails),
        weighs=any(one.label == mass for one in body),
        made_on=record.today,
        build_id=record.build_id,
    )


def _chosen(record: ProgramRecord, own: Sequence[Value], consent: Consent) -> list[list[Value]]:
    lines: dict[str, dict[str, list[Value]]] = {}
    for value in own:
        lines.setdefault(value.measure, {}).setdefault(value.own_line, []).append(value)
    by_family: dict[str, list[list[Value]]] = {family: [] for family in FAMILIES}
    for key, measure in record.catalogue.measures.items():
        if key in lines and may_be_shown(measure) and consent.covers(key):
            ways = lines[key].values()
            most = max(ways, key=lambda way: (len(way), way[-1].held_on, way[-1].own_line))
            by_family[measure.family].append(most)
    turns = zip_longest(*by_family.values())
    return [one for turn in turns for one in turn if one is not None][:MOST]


def _rail(
    record: ProgramRecord, line: Sequence[Value], own: Sequence[Value], verdicts: Verdicts, units: str
) -> model.FamilyRail:
    last = line[-1]
    measure = record.catalogue.measures[last.measure]
    verdict, z = verdicts.of_trends.get((last.stay_id, measure.key, last.line), ("", None))
    key = (last.athlete_id, last.stay_id, measure.key, last.line)
    trend, noise = record.trends.get(key), verdicts.noise.get((measure.key, last.line))
    scale = scale_of(measure, units)
    mixed = any(v.line == last.line and v.own_line != last.own_line for v in own if v.measure == measure.key)
    change = None if mixed or trend is None else trend.change
    fitted = None if trend is None or change is None else trend.fitted_start
    start = None if fitted is None else fitted - last.shift
    sets = [words for v in line if (words := set_words(v.set_load, v.set_reps, scale))]
    begin = None if start is None else scale.rounded(start)
    step = None if change is None else scale.rounded(change)
    return model.FamilyRail(
        key=measure.key,
        label=measure.label.removesuffix(", 1RM"),
        plain=measure.plain,
        method=record.labels.get((measure.key, last.own_line), ""),
        unit=scale.unit,
        decimals=scale.decimals,
        lower_is_better=measure.better is Better.LOWER,
        days=len(line),
        mixed=mixed,
        first_on=line[0].held_on,
        last_on=last.held_on,
        start=begin,
        end=None if begin is None or step is None else round(begin + step, scale.decimals),
        change=step,
        low=None if step is None or trend is None or trend.low is None else scale.rounded(trend.low),
        high=None if step is None or trend is None or trend.high is None else scale.rounded(trend.high),
        tape=None if mixed or trend is None else _rounded(scale, tape_of(trend, z)),
        kind=kind_of(verdict, None if mixed else trend, noise),
        estimated=len(sets),
        estimated_from=sets[-1] if sets else "",
    )


def _rounded(scale: PrintScale, value: float | None) -> float | None:
    return None if value is None else scale.rounded(value)


def tape_of(trend: TrendRow, z: float | None) -> float | None:
    """How far a change must go to be called clear, in its own unit; None where that is not known.

    It is what the verdict was given by: the change lies beyond the tape exactly where the verdict is clear.
    """
    if trend.change is None or trend.low is None or trend.high is None or z is None:
        return None
    if abs(z) < SMALL_Z:
        return (trend.high - trend.low) / 2.0
    return abs(trend.change / z) * clear_at(trend.sessions, trend.planned)


def kind_of(verdict: str, trend: TrendRow | None, noise: float | None) -> str:
    """Better or worse where the verdict is clear; the same where the whole interval is within noise; else open.

    "The same" is claimed only where every change that the tests allow is smaller than what two test days of an
    unchanged athlete differ by.
    """
    if trend is None or trend.low is None or trend.high is None or trend.sessions < model.FEWEST_DAYS:
        return model.OPEN
    if verdict == "clear gain":
        return model.BETTER
    if verdict == "clear loss":
        return model.WORSE
    return model.SAME if noise is not None and max(-trend.low, trend.high) <= noise else model.OPEN


def _body(
    record: ProgramRecord, own: Sequence[Value], consent: Consent, units: str, *, hide_mass: bool
) -> tuple[model.Body, ...]:
    result = []
    for field, key in (("height", handles.STANDING_HEIGHT), ("body_mass", handles.BODY_MASS)):
        values = [v for v in own if v.measure == key]
        if field not in consent.fields or not values or (key == handles.BODY_MASS and hide_mass):
            continue
        measure, last = record.catalogue.measures[key], max(values, key=lambda v: v.held_on)
        scale = scale_of(measure, units)
        text = size_text(scale.rounded(last.value), scale)
        result.append(model.Body(label=measure.label, text=text, on=last.held_on))
    return tuple(result)


def _next_step(record: ProgramRecord, log: Sequence[Focus], own: Sequence[Value]) -> model.NextStep | None:
    """The last focus, if it was written since this stay began and says nothing of health."""
    since = min(v.held_on for v in own)
    if not log or log[-1].on < since or word_of_health(log[-1].text):
        return None
    focus, measure = log[-1], record.catalogue.measures.get(log[-1].measure)
    return model.NextStep(
        text=shown_name(focus.text, 300),
        label=measure.label.removesuffix(", 1RM") if measure else focus.measure,
        plain=measure.plain if measure else "",
        until=focus.until,
    )
