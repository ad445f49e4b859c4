"""Holds and restarts: how an athlete's mass runs behind or ahead of their own rate for most of a stay.

Each is drawn for itself, from a stream of random numbers of its own. Without them everybody's mass would keep to a
steady rate, and nobody could separate what goes with mass from what goes with those who gain faster.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from saltmarsh.people import Person, Stay

Series = npt.NDArray[np.float64]

BEHIND = ("late start", "hold in the first weeks: illness", "hold in the first weeks: exams", "hold: travel")
ON_PLAN = "hold agreed with the dietitian"
AHEAD = ("early start, then a hold",)
SHARE, SHARE_BEHIND = 0.65, 0.5
CAMPS = ("A", "B", "D", "E")  # C is too short for it, F still in its first weeks
OLDEST = 18.0  # years at arrival: those who still go to school
FIRST_DAYS = (0, 5)
SHARE_OF_CAMP = (0.88, 1.0)
MOST_OFF = (0.88, 1.26)  # kg


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """Mass leaves its course on day `first` of the stay, is `kg` off it half-way, and is back on day `back`."""

    kind: str
    first: int
    back: int
    kg: float

    def path(self, days: Series) -> Series:
        """Kg off the athlete's own course on each of `days` (N,) since arrival."""
        done = np.clip((days - self.first) / (self.back - self.first), 0.0, 1.0)
        return np.asarray(self.kg * np.sin(np.pi * done))


def draw_holds(
    person: Person, stalls: Mapping[str, tuple[int, int]], rng: np.random.Generator
) -> dict[str, Hold]:
    """The holds of an athlete by camp; none in a story, and none where the plan stalls anyway."""
    drawn = {stay.camp.key: _draw(stay, rng) for stay in person.stays}
    able = {s.camp.key for s in person.stays if person.age(s.arrived_on) < OLDEST and not s.leave_reason}
    if person.story is not None or person.sport != "baseball":
        return {}
    return {
        camp: hold
        for camp, hold in drawn.items()
        if hold and camp in CAMPS and camp in able and camp not in stalls
    }


def _draw(stay: Stay, rng: np.random.Generator) -> Hold | None:
    chosen, behind = rng.random() < SHARE, rng.random() < SHARE_BEHIND
    kinds = ((*BEHIND, ON_PLAN) if stay.planned else BEHIND) if behind else AHEAD
    kind = str(rng.choice(kinds))
    first = int(rng.integers(*FIRST_DAYS))
    back = first + round(stay.camp.days * rng.uniform(*SHARE_OF_CAMP))
    kg = round(rng.uniform(*MOST_OFF), 2)
    return Hold(kind=kind, first=first, back=back, kg=-kg if behind else kg) if chosen else None
