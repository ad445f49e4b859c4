"""Exit speed, throws, pitches and pop times as files."""

from __future__ import annotations

from saltmarsh import academy as a
from saltmarsh.sessions import Academy, Test, text
from saltmarsh.sheets import Sheet

EXIT_LONG = (
    "athlete",
    "measured_on",
    "measure",
    "value",
    "unit",
    "trial",
    "delivery",
    "bat",
    "ball",
    "device",
)
EXIT_EXPORT = (
    "Player",
    "Session date",
    "Metric",
    "Reading",
    "Unit",
    "Hit no",
    "Feed",
    "Bat type",
    "Ball type",
    "Source",
)
THROW_WIDE = ("athlete_id", "date", "role", "approach", "ball", "T1", "T2", "T3", "T4", "T5")
PITCH_LONG = (
    "athlete",
    "measured_on",
    "measure",
    "value",
    "unit",
    "trial",
    "ground",
    "distance",
    "ball",
    "device",
)
POP_LONG = (
    "athlete",
    "measured_on",
    "measure",
    "value",
    "unit",
    "trial",
    "timing",
    "base_distance",
    "batter",
)


def skill_sheets(academy: Academy) -> list[Sheet]:
    """Every skill-output file: exit speed by test day, throws by test day, pitches and pop times by camp."""
    sheets = []
    for camp in a.CAMPS:
        tests = academy.tests(camp.key)
        for on in sorted({t.on for t in tests}):
            of_day = [t for t in tests if t.on == on]
            sheets.append(_exit_day(academy, camp.key, of_day))
            sheets.append(_throw_day(academy, camp.key, of_day))
        sheets.append(_pitches(academy, camp.key, tests))
        if camp.key in "DF":
            sheets.append(_pop(academy, camp.key, tests))
    return [s for s in sheets if s.rows]


def ball(test: Test) -> str:
    """The ball of the athlete's sport."""
    return "baseball" if test.person.sport == "baseball" else "softball 12"


def _exit_day(academy: Academy, camp: str, tests: list[Test]) -> Sheet:
    export = camp in "CD"
    name = f"exit_export_{camp}" if export else f"exit_speed_{camp}"
    sheet = Sheet(
        name=f"{name}_{tests[0].on.isoformat()}.csv",
        headers=EXIT_EXPORT if export else EXIT_LONG,
        camp=camp,
        values={"Reading" if export else "value": ("*", a.MPS_PER_MPH)},
    )
    bridged = dict(a.BRIDGED) if camp == "E" and tests[0].day == 3 else {}
    for test in tests:
        if (test.person.story and not test.person.story.hits) or not academy.present(test):
            continue
        value, fixed = academy.session(
            test, "exit", a.EXIT_SESSION_SD, -a.EXIT_LEARNING if test.is_first else 0.0
        )
        new = camp in "EF"
        device = "optical" if new else "radar"
        _exit_trials(
            academy, sheet, test, value + (a.EXIT_OPTICAL_OFFSET if new and not fixed else 0.0), device, fixed
        )
        usual = {"baseball": "metal", "softball": "composite"}[test.person.sport]
        if bridged.get(test.person.sport, 0) and test.person.bat_on(test.on) == usual:
            bridged[test.person.sport] -= 1
            _exit_trials(academy, sheet, test, value, "radar", fixed)
    return sheet


def _exit_trials(academy: Academy, sheet: Sheet, test: Test, value: float, device: str, fixed: bool) -> None:
    values = academy.trials(value, 10, a.SWING_SD, fixed=fixed, mishits=True)
    for trial, mph in enumerate(values, start=1):
        cells = {"bat": test.person.bat_on(test.on), "ball": ball(test), "reading": text(max(mph, 25.0), 1)}
        if sheet.headers is EXIT_LONG:
            sheet.add(
                test.person,
                test.on,
                athlete=test.person.athlete_id,
                measured_on=test.on.isoformat(),
                measure="exit_speed",
                value=cells["reading"],
                unit="mph",
                trial=str(trial),
                delivery="tee",
                bat=cells["bat"],
                ball=cells["ball"],
                device=device,
            )
        else:
            who = test.person.name if sheet.camp == "C" else test.person.athlete_id
            sheet.add(
                test.person,
                test.on,
                Player=who,
                Session_date=test.on.strftime("%m/%d/%Y"),
                Metric="Exit velo tee",
                Reading=cells["reading"],
                Unit="mph",
                Hit_no=str(trial),
                Feed="tee",
                Bat_type=cells["bat"],
                Ball_type=cells["ball"],
                Source=device,
            )


def _throw_day(academy: Academy, camp: str, tests: list[Test]) -> Sheet:
    columns = THROW_WIDE[5:]
    sheet = Sheet(
        name=f"throws_{camp}_{tests[0].on.isoformat()}.csv",
        headers=THROW_WIDE,
        camp=camp,
        long=False,
        values=dict.fromkeys(columns, ("throw_speed", a.MPS_PER_MPH)),
    )
    approach = {"outfield": "crow hop", "infield": "shuffle", "catcher": "flat-footed"}
    for test in tests:
        if test.person.positions[0] in {"P", "LHP", "RHP"} or not academy.present(test):
            continue
        value, fixed = academy.session(test, "throw", a.THROW_SESSION_SD)
        values = academy.trials(value, 5, a.THROW_TRIAL_SD, fixed=fixed)
        sheet.add(
            test.person,
            test.on,
            athlete_id=test.person.athlete_id,
            date=test.on.isoformat(),
            role=test.person.role,
            approach=approach[test.person.role],
            ball=ball(test),
            **{c: text(v, 1) for c, v in zip(columns, values, strict=True)},
        )
    return sheet


def _pitches(academy: Academy, camp: str, tests: list[Test]) -> Sheet:
    headers = PITCH_LONG + (("radar_angle",) if camp == "F" else ())
    sheet = Sheet(
        name=f"pitches_{camp}.csv", headers=headers, camp=camp, values={"value": ("*", a.MPS_PER_MPH)}
    )
    for test in tests:
        if not test.person.pitches or not academy.present(test):
            continue
        value, fixed = academy.session(test, "pitch", a.THROW_SESSION_SD)
        wind = test.person.sport == "softball"
        angle = int(academy.rng.integers(0, 7))
        for trial, mph in enumerate(academy.trials(value, 10, 1.4, fixed=fixed), start=1):
            sheet.add(
                test.person,
                test.on,
                athlete=test.person.athlete_id,
                measured_on=test.on.isoformat(),
                measure="windmill_pitch_speed" if wind else "pitch_speed",
                value=text(mph, 1),
                unit="mph",
                trial=str(trial),
                ground="" if wind else "mound",
                distance="43 ft" if wind else "60 ft 6 in",
                ball=ball(test),
                device="radar",
                radar_angle=str(angle),
            )
    return sheet


def _pop(academy: Academy, camp: str, tests: list[Test]) -> Sheet:
    sheet = Sheet(name=f"catchers_{camp}.csv", headers=POP_LONG, camp=camp, values={"value": ("*", 1.0)})
    for test in tests:
        if test.person.role != "catcher" or not academy.present(test):
            continue
        value, fixed = academy.session(test, "pop", 0.04)
        bases = "90 ft" if test.person.sport == "baseball" else "60 ft"
        for trial, seconds in enumerate(academy.trials(value, 5, 0.05, fixed=fixed), start=1):
            sheet.add(
                test.person,
                test.on,
                athlete=test.person.athlete_id,
                measured_on=test.on.isoformat(),
                measure="pop_time",
                value=text(seconds, 2),
                unit="s",
                trial=str(trial),
                timing="hand",
                base_distance=bases,
                batter="without",
            )
    return sheet
