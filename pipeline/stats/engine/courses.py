"""How change goes on over a stay: fast at first or evenly, and how much less an intake day tells.

A course is f(t) = log(1 + t / scale) with t in weeks; a scale without end is the straight line. Which scale fits
is learned from the athletes' own lines of a whole line of sessions, never from one athlete: a form chosen for
each would turn noise into bends. An intake day is noisier than a later one (travel for some, the test is new),
so it counts less; by how much is averaged over what the sessions leave possible.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isinf

import numpy as np
import pandas as pd

from latewood.pipeline.stats.engine.mixed_sums import Floats

SCALES = (1.5, 3.0, 6.0, 12.0, 24.0, inf)  # weeks
# of the intake effect, in noise of one session, where nobody in the line was tested twice: a choice
INTAKE_SD = 0.5
RATIOS = np.array([1.0, 1.5, 2.0, 3.0, 4.5])  # variance of an intake session, over that of a later one


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The scale of f(t) in weeks, the variance of an intake session relative to a later one, and serial noise.

    `serial` is what `serial.serial_noise` gives; empty where sessions are taken as independent. `intake_mean` (in the
    unit of the values) and `intake_sd` (in noise of one session) say what a camp where hardly anybody was tested twice
    may be taken to lack on its intake day (`intake_prior`).
    """

    scale: float = inf
    intake_ratio: float = 1.0
    serial: tuple[float, ...] = ()
    intake_mean: float = 0.0
    intake_sd: float = INTAKE_SD

    @property
    def form(self) -> str:
        """What the course is called in a method."""
        return "linear" if isinf(self.scale) else f"log (scale {self.scale:g} weeks)"

    def at(self, weeks: Floats) -> Floats:
        """f(t) of weeks (N,)."""
        return course_at(self.scale, weeks)

    def weights(self, first: pd.Series) -> Floats:
        """Weights (N,) of sessions; `first` marks the intake days."""
        return np.where(first.to_numpy(dtype=bool), 1.0 / self.intake_ratio, 1.0)


STRAIGHT = Course()


def course_at(scale: float, weeks: Floats) -> Floats:
    """f(t): weeks themselves where the scale is infinite, else log(1 + weeks / scale).

    `weeks` (n,) since the stay began; the result (n,).
    """
    return weeks if isinf(scale) else np.log1p(np.maximum(weeks, 0.0) / scale)
