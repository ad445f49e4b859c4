"""Values typed on a tablet: who is still missing, what is saved, and whether a value has to be asked about."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from dashboard.views.lookup import Lookup
from dashboard.wording import MINUS, Scale, count_of, day
from pipeline.ingest.entered import Entry

# A mass that moves by more than this since the last one is asked about. Common practice, no source.
JUMP = 0.02
LEAST_JUMP_KG = 1.5
WEEKLY_JUMP = 0.01
POUND = 2.20462
UNIT_BAND = 0.06


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryMeasure:
    """A measure as the entry screens need it; values in `unit`."""

    measure: str
    label: str
    unit: str
    resolution: float
    decimals: int
    trials: int
    hard_low: float
    hard_high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LastValue:
    """The latest value of one athlete in one measure, from the published build."""

    athlete_id: str
    value: float
    held_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """What is asked before a value is saved. Without `may_save` it cannot be saved at all."""

    text: str
    may_save: bool


def mass_doubt(
    kg: float, last: LastValue | None, on: date, measure: EntryMeasure, scale: Scale
) -> Doubt | None:
    """What to ask about a weigh-in, None where it fits. A slip of 10 kg is always asked about."""
    if not measure.hard_low <= kg <= measure.hard_high:
        ends = f"{scale.text(measure.hard_low)} to {scale.text(measure.hard_high)}"
        return Doubt(text=f"Not saved: {scale.text(kg)} is outside {ends}. Type it again.", may_save=False)
    if last is None:
        return Doubt(text=f"First weigh-in here. Is {scale.text(kg)} right?", may_save=True)
    weeks = max(0, (on - last.held_on).days) / 7.0
    allowed = max(LEAST_JUMP_KG, JUMP * last.value) + WEEKLY_JUMP * last.value * weeks
    gap = kg - last.value
    if abs(gap) <= min(allowed, 0.1 * last.value):
        return None
    other = _other_unit(kg, last.value)
    which = "above" if gap > 0 else "below"
    return Doubt(
        text=f"Not saved yet: {scale.text(abs(gap))} {which} the last value, {scale.text(last.value)} on "
        f"{day(last.held_on)}. Check the name and the number.{other}",
        may_save=True,
    )


def _other_unit(kg: float, last_kg: float) -> str:
    for factor, words in ((POUND, "pounds on a scale set to kilograms"), (1 / POUND, "kilograms for pounds")):
        if abs(kg / last_kg / factor - 1.0) < UNIT_BAND:
            return f" It looks like {words}."
    return ""


def value_doubt(value: float, last: LastValue | None, measure: EntryMeasure, scale: Scale) -> Doubt | None:
    """What to ask about a test value: outside the possible range, or a third away from the last one."""
    if not measure.hard_low <= value <= measure.hard_high:
        ends = f"{scale.text(measure.hard_low)} to {scale.text(measure.hard_high)}"
        return Doubt(text=f"Not saved: {scale.text(value)} is outside {ends}. Type it again.", may_save=False)
    if last is not None and last.value > 0 and abs(value / last.value - 1.0) > 1.0 / 3.0:
        return Doubt(
            text=f"Not saved yet: {scale.text(value)} is far from the last value, {scale.text(last.value)} on "
            f"{day(last.held_on)}. Check the name, the unit and the point.",
            may_save=True,
        )
    return None


def present(lookup: Lookup, camp_id: str, today: date) -> dict[str, str]:
    """The athletes who are at a camp today, by name."""
    here = {
        stay.athlete_id
        for stay in lookup.stays.values()
        if stay.camp_id == camp_id and stay.arrived_on <= today <= (stay.left_on or stay.planned_until)
    }
    names = {one: lookup.name(one) for one in here if one in lookup.athletes}
    return dict(sorted(names.items(), key=lambda pair: pair[1]))


def running_camps(lookup: Lookup, today: date) -> dict[str, str]:
    """The camps at which anybody is today, the latest first."""
    found = {camp_id: camp for camp_id, camp in lookup.camps.items() if present(lookup, camp_id, today)}
    order = sorted(found.values(), key=lambda camp: camp.starts_on, reverse=True)
    return {camp.camp_id: camp.label for camp in order}


def saved_by_athlete(entries: Iterable[Entry], measure: str) -> dict[tuple[str, int], Entry]:
    """The standing entry of each athlete and trial in one measure, the latest typed."""
    return {(one.athlete_id, one.trial): one for one in entries if one.measure == measure}


def with_typed(
    last: Mapping[str, LastValue], earlier: Sequence[tuple[date, Entry]], factor: Mapping[str, float]
) -> dict[str, LastValue]:
    """The last values with those typed since the build; `factor` turns a typed unit into the measure's own."""
    found = dict(last)
    for on, entry in earlier:
        value = float(entry.value.replace(MINUS, "-")) * factor.get(entry.unit, 1.0)
        found[entry.athlete_id] = LastValue(athlete_id=entry.athlete_id, value=value, held_on=on)
    return found


def progress_text(n_saved: int, n_all: int) -> str:
    """How many are saved, and how many are to go."""
    if n_all and n_saved == n_all:
        return f"Everybody is saved: {count_of(n_all, 'athlete')}."
    return f"Saved today: {n_saved} of {n_all}. To go: {n_all - n_saved}."
