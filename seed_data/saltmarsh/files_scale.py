"""Weigh-in files: six scales, six ways of writing the same thing."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from saltmarsh import academy as a
from saltmarsh.people import Person, Stay
from saltmarsh.sessions import Academy, text
from saltmarsh.sheets import Row, Sheet

LONG = ("athlete", "measured_on", "measure", "value", "unit", "state", "measured_at")
NAMED = ("Name", "Date", "Weight kg", "State")
STATION = ("Athlete ID", "Test date", "Mass", "Protocol")


def scale_sheets(academy: Academy) -> list[Sheet]:
    """All weigh-in files of the six camps."""
    weighed = {c.key: _weigh_ins(academy, c.key) for c in a.CAMPS}
    return [
        _long("weighins_A.csv", "A", weighed["A"], encoding="utf-8-sig"),
        _named("weights_B.csv", weighed["B"]),
        _long("weighins_C.csv", "C", weighed["C"]),
        *_camp_d(weighed["D"]),
        _long("weighins_E.txt", "E", weighed["E"], encoding="utf-16", delimiter="\t"),
        *_camp_f(weighed["F"]),
    ]


WeighIn = tuple[Person, date, float, str, str]
"""Athlete, date, kg, state, time of day."""


def _weigh_ins(academy: Academy, camp: str) -> list[WeighIn]:
    result: list[WeighIn] = []
    for person, stay in academy.stays(camp):
        result += _of_stay(academy, person, stay)
    return sorted(result, key=lambda w: (w[1], w[4], w[0].athlete_id))


def _of_stay(academy: Academy, person: Person, stay: Stay) -> list[WeighIn]:
    rng = academy.rng
    days = np.arange(1, (stay.last_day - stay.arrived_on).days + 1)
    noise = _day_noise(len(days), rng)
    kept = _mornings(academy, person, stay, days)
    fed = (rng.random(len(days)) < a.AFTER_FOOD) & (person.story is None)
    food = np.where(fed, rng.normal(0.8, 0.3, len(days)), 0.0)
    clock = rng.integers(0, [[55], [60]], (2, len(days)))
    if person.story is not None:
        noise[kept] = _steady(noise[kept] * 0.7, days[kept])
    result = []
    for i in np.flatnonzero(kept):
        on = stay.arrived_on + timedelta(days=int(days[i]))
        kg = academy.courses[person.athlete_id].at("mass", on) + float(noise[i] + food[i])
        at = f"{'08' if fed[i] else '06'}:{clock[0, i]:02d}:{clock[1, i]:02d}"
        result.append((person, on, kg, "after food" if fed[i] else "fasted", at))
    return result


def _mornings(academy: Academy, person: Person, stay: Stay, days: np.ndarray) -> np.ndarray:
    """Which days of the stay have a weigh-in: three to five weekdays, some missed."""
    per_week = 5 if stay.planned or person.story else int(academy.rng.choice([3, 4, 5]))
    weekdays = {5: (0, 1, 2, 3, 4), 4: (0, 1, 3, 4), 3: (0, 2, 4)}[per_week]
    on_weekday = np.isin((stay.arrived_on.weekday() + days) % 7, weekdays)
    missed = academy.rng.random(len(days)) < (0.03 if person.story else a.MISSING_WEIGHIN)
    return on_weekday & ~missed


def _day_noise(n: int, rng: np.random.Generator) -> np.ndarray:
    water = np.zeros(n)
    shocks = rng.normal(0, a.WATER_SD * np.sqrt(1 - a.WATER_PHI**2), n)
    for i in range(n):
        water[i] = (a.WATER_PHI * water[i - 1] if i else 0.0) + shocks[i]
    return water + rng.normal(0, a.SCALE_SD, n)


def _steady(noise: np.ndarray, days: np.ndarray) -> np.ndarray:
    """The noise without its own level, slope and bends at days 7 and 28, so that a story's trend is as told."""
    basis = np.column_stack([
        np.ones_like(days),
        days,
        np.maximum(days - 7, 0),
        np.maximum(days - 28, 0),
    ]).astype(float)
    fit, *_ = np.linalg.lstsq(basis, noise, rcond=None)
    return noise - basis @ fit


def _long(
    name: str,
    camp: str,
    weighed: list[WeighIn],
    *,
    encoding: str = "utf-8",
    delimiter: str = ",",
    unit: str = "kg",
) -> Sheet:
    factor = 1.0 if unit == "kg" else a.KG_PER_LB
    sheet = Sheet(
        name=name,
        headers=LONG,
        camp=camp,
        encoding=encoding,
        delimiter=delimiter,
        values={"value": ("*", factor)},
    )
    for person, on, kg, state, clock in weighed:
        sheet.add(
            person,
            on,
            athlete=person.athlete_id,
            measured_on=on.isoformat(),
            measure="body_mass",
            value=text(kg / factor, 1),
            unit=unit,
            state=state,
            measured_at=f"{on.isoformat()}T{clock}",
        )
    return sheet


def _named(name: str, weighed: list[WeighIn]) -> Sheet:
    sheet = Sheet(
        name=name,
        headers=NAMED,
        camp="B",
        encoding="cp1252",
        delimiter=";",
        decimal=",",
        numeric=("Weight kg",),
        values={"Weight kg": ("body_mass", 1.0)},
        long=False,
    )
    for person, on, kg, state, _ in weighed:
        sheet.add(
            person, on, Name=person.name, Date=on.strftime("%d.%m.%Y"), Weight_kg=text(kg, 1), State=state
        )
    return sheet


def _station(name: str, weighed: list[WeighIn], factor: float) -> Sheet:
    sheet = Sheet(name=name, headers=STATION, camp="D", values={"Mass": ("body_mass", factor)}, long=False)
    for person, on, kg, state, _ in weighed:
        sheet.add(
            person,
            on,
            Athlete_ID=person.athlete_id,
            Test_date=on.strftime("%m/%d/%Y"),
            Mass=text(kg / factor, 1),
            Protocol=state,
        )
    return sheet


def _camp_d(weighed: list[WeighIn]) -> list[Sheet]:
    """Two stations; the second is switched to pounds in week 6 while its mapping still says kg."""
    second = {p.athlete_id for p, *_ in weighed if p.story is None and int(p.athlete_id[-3:]) % 2}
    switch = a.CAMP["D"].day(35)
    first = _long("weighins_D.csv", "D", [w for w in weighed if w[0].athlete_id not in second])
    early = [w for w in weighed if w[0].athlete_id in second and w[1] < switch]
    late = [w for w in weighed if w[0].athlete_id in second and w[1] >= switch]
    return [
        first,
        _station("station2_D_part1.csv", early, 1.0),
        _station("station2_D_part2.csv", late, a.KG_PER_LB),
    ]


def _camp_f(weighed: list[WeighIn]) -> list[Sheet]:
    """One export a week; softball weighs on an American scale in pounds."""
    sheets = []
    for week in range(8):
        low, high = a.CAMP["F"].day(7 * week), a.CAMP["F"].day(7 * week + 6)
        of_week = [w for w in weighed if low <= w[1] <= high]
        baseball = [w for w in of_week if w[0].sport == "baseball"]
        softball = [w for w in of_week if w[0].sport == "softball"]
        sheets.append(_long(f"weighins_F_week{week + 1}.csv", "F", baseball))
        sheets.append(_long(f"weighins_F_softball_week{week + 1}.csv", "F", softball, unit="lb"))
    return sheets


def copy_row(row: Row) -> Row:
    """A second row with the same cells."""
    return Row(dict(row.cells), row.person, row.on, dict(row.truth))
