"""Holds and restarts: how an athlete's mass runs behind or ahead of their own rate for some weeks of a stay.

Each is drawn for itself, from a stream of random numbers of its own. Without them everybody's mass would keep to a
steady rate, and nobody could tell what goes with mass from what goes with those who gain faster.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from saltmarsh import academy as a
from saltmarsh.people import Person, Stay

Series = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One reason with the range of each draw: first day, days of moving away and of resting, kg, kg a week back."""

    first: tuple[int, int]
    moving: tuple[int, int]
    resting: tuple[int, int]
    kg: tuple[float, float]
    back: tuple[float, float]


KINDS = {
    "illness": Kind(first=(8, 36), moving=(6, 11), resting=(4, 11), kg=(-2.6, -1.4), back=(0.35, 0.55)),
    "exams": Kind(first=(6, 32), moving=(12, 20), resting=(4, 12), kg=(-2.0, -1.0), back=(0.3, 0.5)),
    "travel": Kind(first=(8, 36), moving=(7, 14), resting=(3, 10), kg=(-1.8, -1.0), back=(0.3, 0.5)),
    "pause agreed with the dietitian": Kind(
        first=(10, 30), moving=(18, 28), resting=(3, 8), kg=(-2.0, -1.2), back=(0.3, 0.45)
    ),
    "late start": Kind(first=(1, 4), moving=(16, 26), resting=(1, 6), kg=(-2.0, -1.0), back=(0.3, 0.5)),
    "early start": Kind(first=(1, 4), moving=(16, 26), resting=(7, 14), kg=(1.0, 1.8), back=(0.25, 0.4)),
}
SHARES = (0.26, 0.2, 0.12, 0.6, 0.16, 0.12)  # weights of the kinds, in their order; a pause needs a plan
SHARE = 0.55  # of the stays that can have one
SHORTEST = 50  # days of a camp in which there is time to hold and restart


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """Mass moves `kg` off its course from day `first` of the stay to `there`, and back from `restart` to `back`."""

    kind: str
    first: int
    there: int
    restart: int
    back: int
    kg: float

    def path(self, days: Series) -> Series:
        """Kg off the athlete's own course on each of `days` (N,) since arrival."""
        knots = [self.first, self.there, self.restart, self.back]
        return np.interp(days, knots, [0.0, self.kg, self.kg, 0.0])


def draw_holds(
    person: Person, stalls: Mapping[str, tuple[int, int]], rng: np.random.Generator
) -> dict[str, Hold]:
    """The holds of an athlete by camp; none in a story, in a short camp, or where the plan stalls anyway."""
    drawn = {stay.camp.key: _draw(stay, rng) for stay in person.stays}
    return {
        camp: hold
        for camp, hold in drawn.items()
        if hold and person.story is None and a.CAMP[camp].days >= SHORTEST and camp not in stalls
    }


def _draw(stay: Stay, rng: np.random.Generator) -> Hold | None:
    names = [k for k in KINDS if stay.planned or "dietitian" not in k]
    shares = np.array([s for k, s in zip(KINDS, SHARES, strict=True) if k in names])
    chosen = rng.random() < SHARE
    name = str(rng.choice(names, p=shares / shares.sum()))
    kind = KINDS[name]
    first = int(rng.integers(*kind.first))
    there = first + int(rng.integers(*kind.moving))
    restart = there + int(rng.integers(*kind.resting))
    kg = round(float(rng.uniform(*kind.kg)), 2)
    back = restart + round(7 * abs(kg) / float(rng.uniform(*kind.back)))
    return Hold(kind=name, first=first, there=there, restart=restart, back=back, kg=kg) if chosen else None
