"""Camps whose sessions tell too little: no spread, one day, two points, mass and time that rise as one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd

MEASURES = ("exit_speed", "trap_bar_deadlift", "standing_height")
BODY_MASS = "body_mass"
OPENS = date(2032, 6, 1)


@dataclass(frozen=True)
class Asked:
    values: str = "constant"  # or "exact lines", "two levels", "noisy"
    days: str = "weekly"  # or "one day", "two points", "duplicated", "single stay days"
    mass: str = "constant"  # or "rises with time", "noisy"
    athletes: int = 16
    camps: int = 2
    scale: float = 1.0
    offset: float = 0.0
    shift_se: float = 0.0


@dataclass(frozen=True)
class Frames:
    sessions: pd.DataFrame
    people: pd.DataFrame
    stays: pd.DataFrame
    weighins: pd.DataFrame


def frames(asked: Asked) -> Frames:
    rng = np.random.default_rng(20320601)
    athletes = [f"D{k:02d}" for k in range(asked.athletes)]
    rows = [
        row
        for k, athlete in enumerate(athletes)
        for at, day in enumerate(_days(asked.days, k))
        for row in _session(asked, rng, (k, athlete), (at, day))
    ]
    sessions = pd.DataFrame(rows)
    mass = sessions.loc[sessions["measure"] == BODY_MASS]
    weighins = pd.DataFrame({
        "athlete_id": mass["athlete_id"],
        "stay_id": mass["stay_id"],
        "camp_id": mass["camp_id"],
        "measured_on": mass["held_on"],
        "kg": mass["value"],
    })
    weighins = weighins.drop_duplicates(["stay_id", "measured_on"], ignore_index=True)
    return Frames(
        sessions=sessions, people=_people(athletes), stays=_stays(asked, athletes), weighins=weighins
    )


def _days(kind: str, athlete: int) -> list[int]:
    if kind == "one day":
        return [7]
    if kind == "two points":
        return [0, 28]
    if kind == "duplicated":
        return [0, 0, 14, 14, 28, 28]
    if kind == "single stay days":
        return [0, 14, 28, 42] if athlete == 0 else [athlete % 5]
    return [0, 7, 14, 21, 28, 35]


def _session(
    asked: Asked, rng: np.random.Generator, who: tuple[int, str], when: tuple[int, int]
) -> list[dict]:
    (k, athlete), (at, day) = who, when
    held = OPENS + timedelta(days=day)
    camp = f"K{k % asked.camps}"
    common = {
        "session_id": f"{athlete}@{held}#{at}",
        "athlete_id": athlete,
        "stay_id": f"{athlete}@{camp}",
        "camp_id": camp,
        "held_on": held,
        "weeks": day / 7,
        "is_intake": day == 0,
        "line": "",
        "own_line": "other" if asked.shift_se and k % 2 else "",
        "shift": 0.0,
        "n_trials": 1,
        "trial_sd": float("nan"),
        "imports": "invented",
    }
    kg = {"constant": 70.0, "rises with time": 70.0 + day / 7, "noisy": 70.0 + k % 7 + rng.normal()}[
        asked.mass
    ]
    made = [{**common, "measure": BODY_MASS, "value": kg, "best": kg, "shift_se": 0.0}]
    for n, measure in enumerate(MEASURES):
        level = {
            "constant": 1.0,
            "exact lines": 1.0 + 0.1 * (k % 6) + 0.01 * day * (1 + k % 3),
            "two levels": 1.0 + 0.2 * (k % 2),
            "noisy": 1.0 + 0.05 * rng.normal(),
        }[asked.values]
        value = asked.offset + asked.scale * level * (n + 1)
        error = asked.shift_se * asked.scale if k % 2 else 0.0
        made.append({**common, "measure": measure, "value": value, "best": value, "shift_se": error})
    return made


def _people(athletes: list[str]) -> pd.DataFrame:
    n = len(athletes)
    return pd.DataFrame({
        "athlete_id": athletes,
        "display_name": athletes,
        "birth_date": [date(2016, 3, 1)] * n,
        "sex": ["male"] * n,
        "sport": ["baseball"] * n,
        "graduation_year": [2034] * n,
        "positions": ["OF"] * n,
        "bats": ["R"] * n,
        "throws": ["R"] * n,
    })


def _stays(asked: Asked, athletes: list[str]) -> pd.DataFrame:
    ended = [OPENS + timedelta(days=50) if k % 2 else None for k in range(len(athletes))]
    return pd.DataFrame({
        "stay_id": [f"{a}@K{k % asked.camps}" for k, a in enumerate(athletes)],
        "athlete_id": athletes,
        "camp_id": [f"K{k % asked.camps}" for k in range(len(athletes))],
        "arrived_on": OPENS,
        "left_on": ended,
        "planned_until": OPENS + timedelta(days=56),
        "left_early": False,
        "leave_reason": None,
    })
