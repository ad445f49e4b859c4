"""The words at what rests on a typed weigh-in that no build holds yet, and at what the build then changed."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import date

from latewood.dashboard.text.wording import Scale, count_of, day, joined, signed_number, with_unit
from latewood.dashboard.views.plans.plans import status_words
from latewood.pipeline.ingest.plans.typed_mass import TypedWeighin
from latewood.pipeline.stats.plans.provisional import TOLERANCE_KG, BuildDifference
from latewood.pipeline.stats.plans.results import PlanReview

NAMED = 4  # athletes named in one line; the rest is counted
PROVISIONAL = "provisional"


@dataclass(frozen=True, slots=True, kw_only=True)
class Writing:
    """How names, days and masses are written, and whose mass is not."""

    name: Callable[[str], str]
    scale: Scale
    today: date
    hidden: Collection[str]

    def mass(self, athlete_id: str, kg: float) -> str:
        """The mass, or that it is hidden."""
        return "mass hidden" if athlete_id in self.hidden else self.scale.text(kg)

    def when(self, on: date) -> str:
        """The day, as a possessive: today's."""
        return "today's" if on == self.today else f"the weigh-in of {day(on)},"


def mark_text(typed: Sequence[TypedWeighin], taken_back: Collection[str], write: Writing) -> str:
    """One line that says whose trend and plan are provisional, and why; '' where nobody's are."""
    people = sorted({one.athlete_id for one in typed} | set(taken_back))
    if not people:
        return ""
    if len(people) == 1:
        return f"Provisional: {_of_one(typed, people[0], write)}, not yet in the build."
    texts = [f"{write.name(one)} ({_short(typed, one, write)})" for one in people[:NAMED]]
    more = len(people) - NAMED
    who = joined([*texts, count_of(more, "other")] if more > 0 else texts)
    return f"Provisional, with what was typed and is not yet in the build: {who}."


def _of_one(typed: Sequence[TypedWeighin], athlete: str, write: Writing) -> str:
    own = [one for one in typed if one.athlete_id == athlete]
    if not own:
        return f"{write.name(athlete)} without a weigh-in that was taken back"
    last = max(own, key=lambda one: one.measured_on)
    if athlete in write.hidden:
        return f"{write.name(athlete)} with {write.when(last.measured_on)} mass, hidden"
    return f"{write.name(athlete)} with {write.when(last.measured_on)} {write.scale.text(last.kg)}"


def _short(typed: Sequence[TypedWeighin], athlete: str, write: Writing) -> str:
    own = [one for one in typed if one.athlete_id == athlete]
    return (
        write.mass(athlete, max(own, key=lambda one: one.measured_on).kg) if own else "one value taken back"
    )


def trend_line(athlete: str, trend_kg: float, review: PlanReview | None, write: Writing) -> str:
    """The provisional trend of one athlete, and where their plan stands with it."""
    texts = [f"{write.name(athlete)}: trend {write.mass(athlete, trend_kg)}"]
    if review is not None:
        if review.rate is not None and athlete not in write.hidden:
            texts.append(with_unit(signed_number(write.scale.of(review.rate), 2), f"{write.scale.unit}/wk"))
        texts.append(f"plan: {status_words(review.status)[0].lower()}")
    return f"{', '.join(texts)} ({PROVISIONAL})"


def moved_texts(moved: Sequence[BuildDifference], write: Writing) -> tuple[str, ...]:
    """What the build made of what was shown before it, where that differs."""
    return tuple(_moved(one, write) for one in moved)


def _moved(one: BuildDifference, write: Writing) -> str:
    if one.built_kg is None:
        return (
            f"{write.name(one.athlete_id)}: the build did not take the weigh-in of {day(one.on_date)} that was "
            "shown as provisional. It may wait for an answer on Data."
        )
    shown, built = (write.mass(one.athlete_id, kg) for kg in (one.shown_kg, one.built_kg))
    texts = []
    if abs(one.built_kg - one.shown_kg) > TOLERANCE_KG:
        texts.append(f"the trend is {built}, shown before as {shown}")
    if one.built_status != one.shown_status:
        now, then = (status_words(status)[0].lower() for status in (one.built_status, one.shown_status))
        texts.append(f"the plan is “{now}”, shown before as “{then}”")
    return f"{write.name(one.athlete_id)}: after the build {joined(texts)}."
