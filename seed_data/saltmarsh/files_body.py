"""Sprints, strength, jumps and body sizes as files."""

from __future__ import annotations

from saltmarsh import academy as a
from saltmarsh.sessions import Academy, Test, text
from saltmarsh.sheets import Sheet

GATES = ("Athlete", "Day", "Run", "Split 10", "Split 30", "Split 60")
HAND = ("athlete", "measured_on", "measure", "value", "unit", "trial", "timing", "start", "surface")
STRENGTH = ("Athlete ID", "Date", "Lift", "Load", "Reps", "Rater")
JUMPS = (
    "who",
    "date",
    "CMJ 1",
    "CMJ 2",
    "CMJ 3",
    "Broad 1",
    "Broad 2",
    "Broad 3",
    "MB 1",
    "MB 2",
    "MB 3",
    "Grip T1",
    "Grip T2",
    "Grip T3",
    "Grip O1",
    "Grip O2",
    "Grip O3",
    "Pull-ups",
)
SIZES = (
    "Full name",
    "Measured",
    "Height 1",
    "Height 2",
    "Height 3",
    "Sitting 1",
    "Sitting 2",
    "Span 1",
    "Span 2",
)
RATERS = ("O. Fernhollow", "B. Rushspindle")


def body_sheets(academy: Academy) -> list[Sheet]:
    """Every file of speed, strength, jumps and body sizes."""
    sheets = []
    for camp in a.CAMPS:
        tests = academy.tests(camp.key)
        days = sorted({t.on for t in tests})
        if camp.key == "A":
            sheets.append(_hand_times(academy, tests))
        else:
            sheets += [_gate_day(academy, camp.key, [t for t in tests if t.on == on]) for on in days]
        if camp.key == "E":
            sheets += [
                _strength(academy, f"strength_E_{on.isoformat()}", [t for t in tests if t.on == on])
                for on in days
            ]
        else:
            sheets.append(_strength(academy, f"strength_{camp.key}", tests))
        sheets.append(_jumps(academy, camp.key, tests))
        sheets.append(_sizes(academy, camp.key, tests))
    return [s for s in sheets if s.rows]


def _hand_times(academy: Academy, tests: list[Test]) -> Sheet:
    sheet = Sheet(name="handtimes_A.csv", headers=HAND, camp="A", values={"value": ("*", 1.0)})
    for test in tests:
        if not academy.present(test):
            continue
        value, fixed = academy.session(test, "sprint60", a.SPRINT60_SESSION_SD, a.HAND_OFFSET)
        value += float(academy.rng.normal(0, a.HAND_EXTRA_SD))
        for trial, seconds in enumerate(academy.trials(value, 2, a.SPRINT60_TRIAL_SD, fixed=fixed), start=1):
            sheet.add(
                test.person,
                test.on,
                athlete=test.person.athlete_id,
                measured_on=test.on.isoformat(),
                measure="sprint_60yd",
                value=text(seconds, 2),
                unit="s",
                trial=str(trial),
                timing="hand",
                start="first motion",
                surface="grass",
            )
    return sheet


def _gate_day(academy: Academy, camp: str, tests: list[Test]) -> Sheet:
    columns = {
        "Split 10": ("sprint_10yd", 1.0),
        "Split 30": ("sprint_30yd", 1.0),
        "Split 60": ("sprint_60yd", 1.0),
    }
    sheet = Sheet(
        name=f"gates_{camp}_{tests[0].on.isoformat()}.csv",
        headers=GATES,
        camp=camp,
        delimiter=";",
        decimal=",",
        numeric=tuple(columns),
        values=columns,
        long=False,
    )
    for test in tests:
        if not academy.present(test):
            continue
        sixty, fixed = academy.session(test, "sprint60", a.SPRINT60_SESSION_SD)
        thirty, _ = academy.session(test, "sprint30", a.SPLIT_SESSION_SD[30])
        ten, fixed10 = academy.session(test, "sprint10", a.SPLIT_SESSION_SD[10])
        runs = zip(
            academy.trials(ten, 2, a.SPLIT_TRIAL_SD[10], fixed=fixed10),
            academy.trials(thirty, 2, a.SPLIT_TRIAL_SD[30]),
            academy.trials(sixty, 2, 0.02 if fixed else a.SPRINT60_TRIAL_SD, fixed=fixed),
            strict=True,
        )
        for run, (t10, t30, t60) in enumerate(runs, start=1):
            sheet.add(
                test.person,
                test.on,
                Athlete=test.person.athlete_id,
                Day=test.on.strftime("%d.%m.%Y"),
                Run=str(run),
                Split_10=text(t10, 2),
                Split_30=text(t30, 2),
                Split_60=text(t60, 2),
            )
    return sheet


def _strength(academy: Academy, name: str, tests: list[Test]) -> Sheet:
    camp = tests[0].stay.camp.key
    factor = a.KG_PER_LB if camp == "B" else 1.0
    sheet = Sheet(
        name=f"{name}.xlsx",
        headers=STRENGTH,
        camp=camp,
        values={"Load": ("*", factor)},
        numeric=("Load", "Reps"),
        banner=(
            "Saltmarsh Lantern Academy (invented)",
            f"Top sets, loads in {'lb' if camp == 'B' else 'kg'}",
        ),
    )
    for test in tests:
        for key, lift in (("trapbar", "Trap bar"), ("bench", "Bench")):
            if not academy.present(test):
                continue
            one_rep, fixed = academy.session(test, key, a.STRENGTH_SESSION_SD if key == "trapbar" else 2.5)
            reps = 5 if fixed else int(academy.rng.choice([1, 2, 3, 4, 5], p=[0.04, 0.08, 0.4, 0.2, 0.28]))
            load = max(one_rep, 25.0) / (1.0 if reps == 1 else 1 + reps / 30) / factor
            step = 0.5 if fixed or factor == 1.0 else 1.0
            sheet.add(
                test.person,
                test.on,
                Athlete_ID=test.person.athlete_id,
                Date=test.on.isoformat(),
                Lift=lift,
                Load=text(round(load / step) * step, 1),
                Reps=str(reps),
                Rater=RATERS[int(academy.rng.integers(2))],
            )
    return sheet


def _jumps(academy: Academy, camp: str, tests: list[Test]) -> Sheet:
    values = {f"CMJ {i}": ("countermovement_jump", 1.0) for i in (1, 2, 3)}
    values |= {f"Broad {i}": ("broad_jump", a.CM_PER_IN) for i in (1, 2, 3)}
    values |= {f"MB {i}": ("medicine_ball_throw", 1.0) for i in (1, 2, 3)}
    values |= {f"Grip {s}{i}": ("grip_strength", 1.0) for s in "TO" for i in (1, 2, 3)}
    values |= {"Pull-ups": ("pull_up_reps", 1.0)}
    sheet = Sheet(name=f"jumps_{camp}.csv", headers=JUMPS, camp=camp, values=values, long=False)
    for test in tests:
        if not academy.present(test):
            continue
        row = sheet.add(
            test.person,
            test.on,
            who=academy.spelled(test.person) if camp == "E" else test.person.athlete_id,
            date=test.on.isoformat(),
        )
        _fill(
            academy, row.cells, test, "cmj", "CMJ ", a.JUMP_SESSION_SD["cmj"], a.JUMP_TRIAL_SD["cmj"], 1.0, 1
        )
        _fill(
            academy,
            row.cells,
            test,
            "broad",
            "Broad ",
            a.JUMP_SESSION_SD["broad"],
            a.JUMP_TRIAL_SD["broad"],
            a.CM_PER_IN,
            1,
        )
        _fill(
            academy,
            row.cells,
            test,
            "medball",
            "MB ",
            a.JUMP_SESSION_SD["medball"],
            a.JUMP_TRIAL_SD["medball"],
            1.0,
            2,
        )
        _fill(academy, row.cells, test, "grip", "Grip T", 1.5, 1.0, 1.0, 1)
        _fill(academy, row.cells, test, "grip", "Grip O", 1.5, 1.0, 1.0, 1, shift=-3.0)
        row.cells["Pull-ups"] = str(max(0, round(academy.session(test, "pullups", 0.8)[0])))
    return sheet


def _fill(
    academy: Academy,
    cells: dict[str, str],
    test: Test,
    key: str,
    stem: str,
    sd: float,
    trial_sd: float,
    factor: float,
    decimals: int,
    shift: float = 0.0,
) -> None:
    """Write three trials of one jump or squeeze into columns '<stem>1' to '<stem>3'."""
    value, _ = academy.session(test, key, sd, shift)
    for i, v in enumerate(academy.trials(value, 3, trial_sd), start=1):
        cells[f"{stem}{i}"] = text(v / factor, decimals)


def _sizes(academy: Academy, camp: str, tests: list[Test]) -> Sheet:
    values = {f"Height {i}": ("standing_height", 1.0) for i in (1, 2, 3)}
    values |= {f"Sitting {i}": ("sitting_height", 1.0) for i in (1, 2)}
    values |= {f"Span {i}": ("wingspan", a.CM_PER_IN) for i in (1, 2)}
    sheet = Sheet(name=f"sizes_{camp}.csv", headers=SIZES, camp=camp, values=values, long=False)
    for test in tests:
        if test.day == 3 or not academy.present(test):
            continue
        height, _ = academy.session(test, "height", 0.05 if test.person.story else a.HEIGHT_SESSION_SD)
        sitting, _ = academy.session(test, "sitting", 0.05 if test.person.story else 0.35)
        span, _ = academy.session(test, "wingspan", 0.5)
        row = sheet.add(
            test.person,
            test.on,
            Full_name=academy.spelled(test.person),
            Measured=test.on.strftime("%m/%d/%Y"),
        )
        steady = test.person.story is not None
        for i, v in enumerate(
            academy.trials(height, 3, 0.1 if steady else a.HEIGHT_TRIAL_SD, fixed=steady), start=1
        ):
            row.cells[f"Height {i}"] = text(v, 1)
        for i in (1, 2):
            row.cells[f"Sitting {i}"] = text(
                sitting + float(academy.rng.normal(0, 0.05 if steady else 0.35)), 1
            )
            row.cells[f"Span {i}"] = text((span + float(academy.rng.normal(0, 0.4))) / a.CM_PER_IN, 1)
    return sheet
