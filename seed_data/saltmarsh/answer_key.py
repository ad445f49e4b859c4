"""The answer key: planted effects, true changes, true measurement error, and every planted error."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import numpy as np

from saltmarsh import academy as a
from saltmarsh.files_consent import consent_states
from saltmarsh.files_movement import ATHLETE_MS, LATE_MS, LATE_SHARES, LATE_TRIALS, SESSION_MS, TRIAL_MS
from saltmarsh.files_traces import DEVICES
from saltmarsh.holds import Hold
from saltmarsh.people import Person, Stay
from saltmarsh.planter import Planted, Planter
from saltmarsh.sessions import Academy
from saltmarsh.sheets import Row, Sheet

TRUE_MEASURES = {
    "mass": ("body_mass", 1.0),
    "height": ("standing_height", 1.0),
    "trapbar": ("trap_bar_deadlift", 1.0),
    "exit": ("exit_speed", a.MPS_PER_MPH),
    "throw": ("throw_speed", a.MPS_PER_MPH),
    "sprint60": ("sprint_60yd", 1.0),
    "cmj": ("countermovement_jump", 1.0),
    "broad": ("broad_jump", 1.0),
}


def answer_key(academy: Academy, planter: Planter) -> str:
    """The whole key as JSON text: one entry of a list per line."""
    key: dict[str, Any] = {
        "about": "Answer key of an invented academy. Values are in canonical units unless a name says mph.",
        "invented": True,
        "seed": a.SEED,
        "clock": a.CLOCK.isoformat(),
        "effects": _effects(),
        "measurement_error": _measurement_error(),
        "movement": _movement(),
        "bridge": _bridge(),
        "stories": [_story(p) for p in academy.people if p.story],
        "not_errors": [_not_error(academy.people)],
        "cohorts": [row for c in a.CAMPS for row in _cohort(academy, c.key)],
        "stays": [_stay(academy, p, s) for p in academy.people for s in p.stays],
        "consents": [{"athlete_id": p.athlete_id, "state": s} for p, s in consent_states(academy)],
        "whole_files": planter.whole_files,
        "recognised": sorted((_twice(*t) for t in planter.recognised), key=lambda r: (r["file"], r["line"])),
        "errors": sorted(
            (_error(e) for e in planter.planted), key=lambda r: (r["file"], r["line"], r["field"])
        ),
    }
    counts: dict[str, int] = {}
    for error in key["errors"]:
        counts[error["rule"]] = counts.get(error["rule"], 0) + 1
    key["counts"] = dict(sorted(counts.items())) | {
        "whole_file_unit": sum(int(w["cells"]) for w in planter.whole_files)
    }
    return _dump(key)


def _dump(key: dict[str, Any]) -> str:
    parts = []
    for name, value in key.items():
        if isinstance(value, list):
            lines = ",\n".join("    " + json.dumps(v, ensure_ascii=False) for v in value)
            parts.append(f'  "{name}": [\n{lines}\n  ]')
        else:
            parts.append(
                f'  "{name}": ' + json.dumps(value, ensure_ascii=False, indent=2).replace("\n", "\n  ")
            )
    return "{\n" + ",\n".join(parts) + "\n}\n"


def _effects() -> dict[str, Any]:
    return {
        "exit_speed_per_kg_mph": a.EXIT_PER_KG,
        "exit_speed_per_kg": {k: round(v * a.MPS_PER_MPH, 6) for k, v in a.EXIT_PER_KG.items()},
        # Strength gains are drawn apart from mass, so at equal time the total effect of mass is the direct one.
        "exit_speed_total_per_kg": {k: round(v * a.MPS_PER_MPH, 6) for k, v in a.EXIT_PER_KG.items()},
        "exit_speed_per_kg_spread_mph": a.EXIT_PER_KG_SPREAD,
        "exit_speed_per_strength_kg_mph": a.EXIT_PER_STRENGTH_KG,
        "exit_speed_practice_mph_per_week": a.EXIT_PRACTICE,
        "exit_speed_growth_mph_per_month": "0.40 - 0.07 (age - 13.5), at least 0.05",
        "exit_speed_learning_mph": a.EXIT_LEARNING,
        "exit_speed_between_per_kg_mph": 0.28,
        "throw_speed_per_kg_mph": a.THROW_PER_KG,
        "throw_speed_per_strength_kg_mph": a.THROW_PER_STRENGTH_KG,
        "throw_speed_practice_mph_per_week": a.THROW_PRACTICE,
        "sprint_60yd_per_kg": a.SPRINT60_PER_KG,
        "sprint_60yd_per_strength_kg": a.SPRINT60_PER_STRENGTH_KG,
        "sprint_60yd_practice_per_week": a.SPRINT60_PRACTICE,
        "hand_timing_shift": a.HAND_OFFSET,
        "countermovement_jump_per_kg": a.CMJ_PER_KG,
        "countermovement_jump_per_strength_kg": a.CMJ_PER_STRENGTH_KG,
        "mass_rate_on_plan_kg_per_week": a.MASS_RATE_PLAN,
        "mass_rate_without_plan_kg_per_week": a.MASS_RATE_FREE,
        "mass_off_season_kg_per_week": a.MASS_OFF,
        "strength_rate_kg_per_week": a.STRENGTH_RATE,
        "strength_off_season_kg_per_week": a.STRENGTH_OFF,
        "note": "Pairs are mean and SD between athletes. Effects are within athletes. Training, not mass, moves stren",
    }


def _measurement_error() -> dict[str, Any]:
    """Session-to-session SD of the catalogue's session value with the true value unchanged, by simulation."""
    rng = np.random.default_rng([a.SEED, 9])
    size = 200_000
    swings = rng.normal(0, a.SWING_SD, (size, 10))
    swings -= (rng.random((size, 10)) < a.MISHIT_SHARE) * rng.uniform(*a.MISHIT_LOSS, (size, 10))
    throws = rng.normal(0, a.THROW_TRIAL_SD, (size, 5))
    cmj = np.sort(rng.normal(0, a.JUMP_TRIAL_SD["cmj"], (size, 3)), axis=1)[:, 1:].mean(axis=1)
    broad = rng.normal(0, a.JUMP_TRIAL_SD["broad"], (size, 3)).max(axis=1)
    return {
        "exit_speed": _total(a.EXIT_SESSION_SD, np.median(swings, axis=1), a.MPS_PER_MPH),
        "throw_speed": _total(a.THROW_SESSION_SD, np.median(throws, axis=1), a.MPS_PER_MPH),
        "sprint_60yd electronic": _total(
            a.SPRINT60_SESSION_SD, rng.normal(0, a.SPRINT60_TRIAL_SD / np.sqrt(2), size)
        ),
        "sprint_60yd hand": _total(
            float(np.hypot(a.SPRINT60_SESSION_SD, a.HAND_EXTRA_SD)),
            rng.normal(0, a.SPRINT60_TRIAL_SD / np.sqrt(2), size),
        ),
        "sprint_30yd": _total(a.SPLIT_SESSION_SD[30], rng.normal(0, a.SPLIT_TRIAL_SD[30] / np.sqrt(2), size)),
        "sprint_10yd": _total(a.SPLIT_SESSION_SD[10], rng.normal(0, a.SPLIT_TRIAL_SD[10] / np.sqrt(2), size)),
        "standing_height": _total(
            a.HEIGHT_SESSION_SD, np.median(rng.normal(0, a.HEIGHT_TRIAL_SD, (size, 3)), axis=1)
        ),
        "trap_bar_deadlift": _total(a.STRENGTH_SESSION_SD, np.zeros(1)),
        "countermovement_jump": _total(a.JUMP_SESSION_SD["cmj"], cmj),
        "broad_jump": _total(a.JUMP_SESSION_SD["broad"], broad),
        "body_mass one morning": {
            "session_sd": round(float(np.hypot(a.WATER_SD, a.SCALE_SD)), 4),
            "water_phi": a.WATER_PHI,
            "water_sd": a.WATER_SD,
            "scale_sd": a.SCALE_SD,
        },
    }


def _movement() -> dict[str, Any]:
    """Timing of peaks, in ms. Trial SD as a pooled SD shows it: late trials are part of the pelvis's."""
    shares = np.array(LATE_SHARES)
    pelvis = float(np.sqrt(TRIAL_MS**2 + LATE_MS**2 * np.mean(shares * (1 - shares))))
    return {
        "trial_sd_ms": TRIAL_MS,
        "pelvis_trial_sd_ms": round(pelvis, 2),
        "pelvis_late_ms": LATE_MS,
        "pelvis_late_shares": list(LATE_SHARES),
        "pelvis_late_trials": LATE_TRIALS,
        "session_sd_ms": SESSION_MS,
        "athlete_sd_ms": ATHLETE_MS,
        "note": "Athletes with a story have their typical times and late trials written down, not drawn.",
        "traces": sorted(DEVICES),
    }


def _total(session_sd: float, from_trials: np.ndarray, factor: float = 1.0) -> dict[str, float]:
    trial = float(np.std(from_trials))
    return {
        "session_sd": round(session_sd * factor, 4),
        "from_trials": round(trial * factor, 4),
        "typical_error": round(float(np.hypot(session_sd, trial)) * factor, 4),
    }


def _bridge() -> dict[str, Any]:
    return {
        "measure": "exit_speed",
        "from": "radar",
        "to": "optical",
        "held_on": a.CAMP["E"].day(3).isoformat(),
        "shift_mph": a.EXIT_OPTICAL_OFFSET,
        "shift": round(a.EXIT_OPTICAL_OFFSET * a.MPS_PER_MPH, 6),
        "athletes": a.BRIDGED,
        "note": "Metal bats in baseball, composite in softball, so that all pairs of a sport stand in one line.",
    }


def _story(person: Person) -> dict[str, Any]:
    assert person.story is not None
    sessions = [
        {"camp": camp, "measure": key, "by_test_day": {str(d): v for d, v in days.items()}}
        for (camp, key), days in person.story.sessions.items()
    ]
    return {
        "athlete_id": person.athlete_id,
        "name": person.name,
        "camps": person.story.camps,
        "tells": person.story.tells,
        "sessions": sessions,
    }


def _not_error(people: list[Person]) -> dict[str, str]:
    light = next(p for p in people if p.name == "Lorcan Heronreed")
    return {
        "athlete_id": light.athlete_id,
        "name": light.name,
        "stay_id": f"{light.athlete_id}@D",
        "why": "191 cm, 62.0 kg (BMI 17.0) at arrival, 74.4 kg at exit, smoothly: true, none of their rows may be held",
    }


def _change(academy: Academy, person: Person, stay: Stay, key: str, until: date) -> float:
    course = academy.courses[person.athlete_id]
    return course.at(key, until) - course.at(key, stay.arrived_on)


def _cohort(academy: Academy, camp: str) -> list[dict[str, Any]]:
    """True mean change from arrival to exit (or the clock) by sport, without the learning of the test."""
    rows = []
    for sport in ("baseball", "softball"):
        mine = [(p, s) for p, s in academy.stays(camp) if p.sport == sport]
        stayed = [(p, s) for p, s in mine if not s.leave_reason]
        for key, (measure, factor) in TRUE_MEASURES.items():
            everyone = [_change(academy, p, s, key, s.last_day) * factor for p, s in mine]
            finishers = [_change(academy, p, s, key, s.last_day) * factor for p, s in stayed]
            rows.append({
                "camp": camp,
                "sport": sport,
                "measure": measure,
                "n": len(mine),
                "finished": len(stayed),
                "gain_all": round(float(np.mean(everyone)), 4),
                "gain_finishers": round(float(np.mean(finishers)), 4),
                "sd_all": round(float(np.std(everyone, ddof=1)), 4),
            })
    return rows


def _stay(academy: Academy, person: Person, stay: Stay) -> dict[str, Any]:
    course = academy.courses[person.athlete_id]
    true = {
        measure: [round(course.at(key, on) * factor, 4) for on in (stay.arrived_on, stay.last_day)]
        for key, (measure, factor) in TRUE_MEASURES.items()
    }
    row: dict[str, Any] = {
        "stay_id": f"{person.athlete_id}@{stay.camp.key}",
        "arrived_on": stay.arrived_on.isoformat(),
        "until": stay.last_day.isoformat(),
        "plan": stay.planned,
        "true": true,
    }
    if person.story is None:
        row["mass_rate"] = round(course.mass_rates[stay.camp.key], 4)
        row["exit_speed_per_kg_mph"] = round(course.mass_per_exit, 4)
        if stay.camp.key in course.stalls:
            row["stall_days"] = course.stalls[stay.camp.key]
        if stay.camp.key in course.holds:
            row["hold"] = _hold(course.holds[stay.camp.key])
    return row


def _hold(hold: Hold) -> dict[str, Any]:
    """Days since arrival on which mass leaves its course and is back; `kg` is how far off it is half-way."""
    return {"why": hold.kind, "days": [hold.first, hold.back], "kg": hold.kg}


def _error(entry: Planted) -> dict[str, Any]:
    def rounded(value: float | None) -> float | None:
        return None if value is None else round(value, 5)

    row: dict[str, Any] = {
        "file": entry.sheet.name,
        "line": entry.sheet.line(entry.row),
        "field": entry.field,
        "rule": entry.rule,
        "cell": entry.cell,
        "given": entry.given,
        "expected_proposal": {
            "kind": entry.proposal,
            "value": rounded(entry.proposed_value),
            "text": entry.proposed_text,
        },
        "true_value": rounded(entry.true_value),
        "true_text": entry.true_text,
        "athlete_id": entry.row.person.athlete_id if entry.row.person else None,
        "true_date": entry.row.on.isoformat() if entry.row.on else None,
    }
    if entry.rule == "split_order":
        row["may_also_hold"] = ["Split 10", "Split 60"]  # true, but of the same doubtful run
    if entry.may_also:
        row["other_rules"] = list(entry.may_also)
    return row


def _twice(sheet: Sheet, row: Row, first_sheet: Sheet, first_row: Row) -> dict[str, Any]:
    return {
        "file": sheet.name,
        "line": sheet.line(row),
        "first_file": first_sheet.name,
        "first_line": first_sheet.line(first_row),
    }
