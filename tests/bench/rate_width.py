"""How much wider than the filters say the rate of a plan must be to hold .92: `python -m tests.bench.rate_width`.

Simulated camps of the study of holds, on seeds of their own; `PACE_WIDER` is taken from what is printed.
"""

from __future__ import annotations

import sys

import pandas as pd

from latewood.pipeline.stats.plans.weighin import PACE_WIDER
from tests.calibration.study_holds import WORLDS, camp
from tests.calibration.varied import seeded

SEED, CAMPS, WANTED = 99_110, 10, 0.92


def main() -> None:
    for at, world in enumerate(WORLDS):
        table = pd.concat([camp(seeded(SEED, at, k), world, k) for k in range(CAMPS)])
        for course, part in table.groupby("course"):
            needed = PACE_WIDER * part["need"].astype(float).quantile(WANTED)
            sys.stdout.write(f"{world.name}, {course}, {len(part)} looks: {needed:.2f} times as wide\n")


if __name__ == "__main__":
    main()
