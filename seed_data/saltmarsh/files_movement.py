"""Camp F's movement sensors and the coaches' rated observations."""

from __future__ import annotations

import numpy as np

from saltmarsh.academy import SEED
from saltmarsh.sessions import Academy, Test, text
from saltmarsh.sheets import Sheet

SEGMENTS = ("Pelvis", "Torso", "Lead arm", "Upper arm", "Forearm", "Hand", "Bat")
KEYS = ("pelvis", "torso", "lead_arm", "upper_arm", "forearm", "hand", "bat")
HEADERS = (
    "Athlete",
    "Date",
    "Action",
    "Event",
    "Rep",
    *(f"{s} peak" for s in SEGMENTS),
    "Torso other peak",
    *(f"{s} ms" for s in SEGMENTS),
    "Separation",
)
CHAIN = {
    "swing": ("Pelvis", "Torso", "Lead arm", "Bat"),
    "throw": ("Pelvis", "Torso", "Upper arm", "Forearm", "Hand"),
    "windmill": ("Pelvis", "Torso", "Upper arm", "Forearm", "Hand"),
}
TYPICAL = {
    "Pelvis": (640, 55),
    "Torso": (1010, 80),
    "Lead arm": (1180, 90),
    "Upper arm": (1320, 95),
    "Forearm": (1720, 110),
    "Hand": (2050, 130),
    "Bat": (2150, 120),
}
AHEAD_MS = {
    "Pelvis": -118,
    "Torso": -82,
    "Lead arm": -58,
    "Upper arm": -52,
    "Forearm": -30,
    "Hand": -14,
    "Bat": -9,
}
OBSERVED = (
    ("obs_drive_leg_valgus", "action"),
    ("obs_early_trunk_rotation", "action"),
    ("obs_front_leg_stabilisation", "action"),
    ("obs_first_step_type", "task"),
)
OBS_HEADERS = ("athlete", "measured_on", "measure", "value", "action", "task", "view", "rater")
REPS = 8
# Times, in ms. A trial's time scatters by TRIAL_MS; in some trials the pelvis is late by LATE_MS, in a share that is
# the athlete's own. So the trials of the pelvis scatter by far more than those of the other segments.
TRIAL_MS, LATE_MS = 5.0, 45.0
ATHLETE_MS, SESSION_MS = 6.0, 2.0
LATE_SHARES = (0.02, 0.02, 0.05, 0.10, 0.15, 0.40)  # one of them for each athlete without a story
LATE_TRIALS = {  # story athletes: day of the stay -> trials in which the pelvis is late
    "Priya Vanamarsh": {3: (5,), 21: (5,), 42: (5,)},
    "Kwabena Marlwick": {3: (1, 2, 4, 5, 6, 8), 21: (2, 4, 5, 7), 42: (6,)},
}
# Hip-shoulder separation of one athlete: day of the stay -> the middle trial; trials lie evenly about it.
SEPARATIONS = {"Priya Vanamarsh": {3: 38, 21: 41, 42: 44}}
ABOUT = (-3, -2, -1, 0, 0, 1, 2, 3)


def movement_sheets(academy: Academy) -> list[Sheet]:
    """One sensor file per test day of camp F from the second on, and one file of observations."""
    tests = [t for t in academy.tests("F") if not t.is_first]
    build = _Builds(academy)
    sheets = [
        _movement_day(academy, build, [t for t in tests if t.on == on])
        for on in sorted({t.on for t in tests})
    ]
    return [*sheets, _observations(academy, academy.tests("F"))]


class _Builds:
    """Each athlete's own typical peaks, drawn once."""

    def __init__(self, academy: Academy) -> None:
        self._rng = academy.rng
        self._known: dict[tuple[str, str], float] = {}
        self._timing = np.random.default_rng([SEED, 8])
        self._ahead: dict[tuple[str, str], float] = {}
        self._late: dict[str, float] = {}

    def peak(self, test: Test, segment: str) -> float:
        """The athlete's own peak of that segment, deg/s; gains a few deg/s a day."""
        key = (test.person.athlete_id, segment)
        if key not in self._known:
            mean, sd = TYPICAL[segment]
            self._known[key] = float(self._rng.normal(mean, sd))
        return self._known[key] + 0.35 * test.day

    def ahead(self, test: Test, segment: str) -> float:
        """The athlete's own time of that segment's peak on one day, ms before the event."""
        story = test.person.story is not None
        key = (test.person.athlete_id, segment)
        if key not in self._ahead:
            self._ahead[key] = 0.0 if story else float(self._timing.normal(0, ATHLETE_MS))
        return AHEAD_MS[segment] + self._ahead[key] + float(self._timing.normal(0, SESSION_MS))

    def late(self, test: Test, rep: int, drawn: float) -> bool:
        """Whether the pelvis is late in this trial."""
        if test.person.story is not None:
            return rep in LATE_TRIALS.get(test.person.name, {}).get(test.day, ())
        who = test.person.athlete_id
        if who not in self._late:
            self._late[who] = float(self._timing.choice(LATE_SHARES))
        return drawn < self._late[who]


def _action(test: Test) -> str:
    if test.person.positions[0] in {"P", "LHP", "RHP"} and test.person.name != "Bogdan Reedwhistle":
        return "throw" if test.person.sport == "baseball" else "windmill"
    return "swing"


def _movement_day(academy: Academy, build: _Builds, tests: list[Test]) -> Sheet:
    values = {f"{s} peak": (f"{k}_peak_speed", 1.0) for s, k in zip(SEGMENTS, KEYS, strict=True)}
    values |= {f"{s} ms": (f"{k}_peak_time", 1.0) for s, k in zip(SEGMENTS, KEYS, strict=True)}
    values |= {"Separation": ("hip_shoulder_separation", 1.0)}
    sheet = Sheet(
        name=f"movement_F_{tests[0].on.isoformat()}.csv", headers=HEADERS, camp="F", values=values, long=False
    )
    for test in tests:
        if academy.present(test):
            _reps(academy, build, sheet, test)
    return sheet


def _reps(academy: Academy, build: _Builds, sheet: Sheet, test: Test) -> None:
    rng, action = academy.rng, _action(test)
    session = {s: build.peak(test, s) + float(rng.normal(0, 28)) for s in CHAIN[action]}
    times = {s: build.ahead(test, s) for s in CHAIN[action]}
    if test.person.name == "Priya Vanamarsh":
        session |= {"Pelvis": 655.0, "Torso": 1104.0}
    separation = float(rng.normal(38 if action != "swing" else 27, 4)) + 0.05 * test.day
    reported = SEPARATIONS.get(test.person.name, {}).get(test.day)
    for rep in range(1, REPS + 1):
        drawn = separation + float(rng.normal(0, 3))
        trial = drawn if reported is None else reported + ABOUT[rep - 1]
        row = sheet.add(
            test.person,
            test.on,
            Athlete=test.person.athlete_id,
            Date=test.on.isoformat(),
            Action=action,
            Event="contact" if action == "swing" else "release",
            Rep=str(rep),
            Separation=text(trial, 0),
        )
        late = build.late(test, rep, float(rng.random()))
        for segment in CHAIN[action]:
            sd = 0.0 if test.person.name == "Priya Vanamarsh" and rep == 1 else 35.0
            row.cells[f"{segment} peak"] = text(session[segment] + rng.normal(0, sd), 0)
            ahead = (
                times[segment] + rng.normal(0, TRIAL_MS) + (LATE_MS if late and segment == "Pelvis" else 0)
            )
            row.cells[f"{segment} ms"] = text(ahead, 0)
        row.cells["Torso other peak"] = text(-212.0 if rep == 1 else -abs(rng.normal(215, 25)), 0)


def _observations(academy: Academy, tests: list[Test]) -> Sheet:
    sheet = Sheet(name="observations_F.csv", headers=OBS_HEADERS, camp="F", values={})
    rng = academy.rng
    tendency = {(p.athlete_id, k): rng.normal(0, 1) for p in academy.people for k, _ in OBSERVED}
    for test in tests:
        if test.day == 3 or not academy.present(test):
            continue
        for key, condition in OBSERVED:
            leaning = tendency[test.person.athlete_id, key] + rng.normal(0, 0.5) - 0.008 * test.day
            word = ("none", "slight", "marked")[int(np.searchsorted([0.3, 1.2], leaning))]
            sheet.add(
                test.person,
                test.on,
                athlete=test.person.athlete_id,
                measured_on=test.on.isoformat(),
                measure=key,
                value=word,
                action=_action(test) if condition == "action" else "",
                task="sprint start" if condition == "task" else "",
                view="both",
                rater=("O. Fernhollow", "B. Rushspindle")[test.day % 2],
            )
    return sheet
