"""Angles at events of some athletes of camp F, read off film, and a second coach's look at one day's movements."""

from __future__ import annotations

import numpy as np

from saltmarsh.academy import SEED
from saltmarsh.files_movement import OBS_HEADERS
from saltmarsh.sessions import Academy, Test, text
from saltmarsh.sheets import Sheet

HEADERS = (
    "athlete", "measured_on", "measure", "value", "unit", "trial", "action", "event", "sensor_class",
)  # fmt: skip
TRIALS = 8
TRIAL_SD, SESSION_SD = 2.5, 1.0  # deg, or cm
# Athlete: action, event, and for each measure its unit, the value at arrival and the change by day 42.
ANGLES = {
    "Amadou Curlewthicket": ("throw", "release", {
        "front_knee_landing": ("deg", 44, 0), "front_knee_finish": ("deg", 40, -12),
        "front_knee_extension": ("deg", 4, 12), "trunk_side_tilt": ("deg", 22, 0),
        "trunk_forward_tilt": ("deg", 31, 5), "drive_leg_knee": ("deg", 58, 0), "stride_length": ("cm", 146, 8),
    }),
    "Priya Vanamarsh": ("windmill", "release", {
        "front_knee_landing": ("deg", 31, 0), "trunk_forward_tilt": ("deg", 12, -4),
        "stride_length": ("cm", 118, 6),
    }),
    "Kwabena Marlwick": ("swing", "contact", {
        "front_knee_landing": ("deg", 36, 0), "front_knee_finish": ("deg", 14, -8),
        "front_knee_extension": ("deg", 22, 8), "trunk_side_tilt": ("deg", 27, 0),
    }),
}  # fmt: skip
# The day of the stay that two coaches look at, and how many athletes they share.
SECOND_DAY, SECOND_PEOPLE = 21, 24
SAME = 0.78  # share of sights on which the second coach says the same
RATERS = ("O. Fernhollow", "B. Rushspindle")
WORDS = ("none", "slight", "marked")


def angle_sheet(academy: Academy) -> Sheet:
    """One file for the whole camp, from the second test day on."""
    sheet = Sheet(name="angles_F.csv", headers=HEADERS, camp="F", values={})
    rng = np.random.default_rng([SEED, 11])
    for test in academy.tests("F"):
        if test.person.name in ANGLES and not test.is_first:
            _session(sheet, test, rng)
    return sheet


def _session(sheet: Sheet, test: Test, rng: np.random.Generator) -> None:
    action, event, measures = ANGLES[test.person.name]
    for measure, (unit, start, change) in measures.items():
        middle = start + change * test.day / 42 + rng.normal(0, SESSION_SD)
        for trial in range(1, TRIALS + 1):
            sheet.add(
                test.person,
                test.on,
                athlete=test.person.athlete_id,
                measured_on=test.on.isoformat(),
                measure=measure,
                value=text(middle + rng.normal(0, TRIAL_SD), 0),
                unit=unit,
                trial=str(trial),
                action=action,
                event=event,
                sensor_class="video",
            )


def second_sheet(academy: Academy, first: Sheet) -> Sheet:
    """What the other coach saw of the first athletes of one day, beside the sheet of the first coach."""
    sheet = Sheet(name="observations_F_second.csv", headers=OBS_HEADERS, camp="F", values={})
    rng = np.random.default_rng([SEED, 12])
    then = {(test.person.athlete_id, test.on) for test in academy.tests("F") if test.day == SECOND_DAY}
    rows = [row for row in first.rows if row.person and (row.person.athlete_id, row.on) in then]
    people = list(dict.fromkeys(row.person.athlete_id for row in rows if row.person))[:SECOND_PEOPLE]
    for row in rows:
        if row.person and row.person.athlete_id in people:
            seen = WORDS.index(row.cells["value"]) if row.cells["value"] in WORDS else 1
            away = 0 if rng.random() < SAME else (1 if seen == 0 or rng.random() < 0.5 else -1)
            word = WORDS[int(np.clip(seen + away, 0, 2))]
            rater = RATERS[1 - RATERS.index(row.cells["rater"])]
            sheet.add(row.person, row.on, **(row.cells | {"value": word, "rater": rater}))
    return sheet
