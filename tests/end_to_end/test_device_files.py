"""Eight files as devices and staff write them: every value is stored true or held, and none is lost without a word."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from io import BytesIO
from pathlib import Path

import pytest
from openpyxl import Workbook

from latewood.pipeline.ingest.actions import import_files, land_files
from tests.conftest import Camp, small_camp

LB, MPH, KMH, INCH, RAD = 0.45359237, 0.44704, 1 / 3.6, 2.54, 57.29577951308232
DAYS = [date(2032, 6, 7) + timedelta(days=n) for n in (0, 7, 14)]
PEOPLE = {"T1": "Arlo Fernmoss", "T2": "Bram Siltwood", "T4": "T4"}
Truth = dict[tuple[str, str, date, int], float]


def each() -> Iterator[tuple[int, str, int, date]]:
    """Athlete and day with their places."""
    for a, athlete in enumerate(PEOPLE):
        for d, day in enumerate(DAYS):
            yield a, athlete, d, day


def scale(truth: Truth) -> tuple[str, bytes, str]:
    lines = ["Serial;Taken at;Person;Weight (lb);Stable"]
    for a, athlete, d, day in each():
        pounds = 158.4 + 13.2 * a + 0.6 * d
        truth[athlete, "body_mass", day, 1] = pounds * LB
        lines.append(f"SC-7;{day:%d.%m.%Y} 06:4{d};{PEOPLE[athlete]};{pounds:.1f};Y")
    mapping = """layout = "wide"\ndate_format = "%d.%m.%Y %H:%M"
[columns]\nathlete = "Person"\nmeasured_on = "Taken at"
[[values]]\nmeasure = "body_mass"\ncolumns = ["Weight (lb)"]\nunit = "lb"\n"""
    return "scale_log.csv", ("\ufeff" + "\r\n".join(lines) + "\r\n").encode(), mapping


def radar(truth: Truth) -> tuple[str, bytes, str]:
    """Places of a list instead of athletes: nobody can know whom they mean, so all are held."""
    lines = ["Slot,When,V1,V2,V3"] + [
        f"{1 + a},{day:%m/%d/%y},{118.0 + 4 * a + d},{119.5 + 4 * a + d},---" for a, _, d, day in each()
    ]
    mapping = """layout = "wide"\ndate_format = "%m/%d/%y"\n[columns]\nathlete = "Slot"\nmeasured_on = "When"
[[values]]\nmeasure = "throw_speed"\ncolumns = ["V1", "V2", "V3"]\nunit = "km/h"\n"""
    return "radar_pocket.csv", "\n".join(lines).encode(), mapping


def gates(truth: Truth) -> tuple[str, bytes, str]:
    lines = ["Gates v3", "", "id\tdate\trun\tG10\tG30\tG60"]
    for a, athlete, d, day in each():
        for run in (1, 2):
            splits = [
                1710 + 30 * a - 4 * d + 9 * run,
                4080 + 50 * a - 9 * d + 12 * run,
                7390 + 80 * a - 15 * d + 21 * run,
            ]
            for measure, ms in zip(("sprint_10yd", "sprint_30yd", "sprint_60yd"), splits, strict=True):
                truth[athlete, measure, day, run] = ms / 1000
            lines.append("\t".join([athlete, day.isoformat(), str(run), *map(str, splits)]))
    values = "".join(
        f'[[values]]\nmeasure = "sprint_{n}yd"\ncolumns = ["G{n}"]\nunit = "ms"\n' for n in (10, 30, 60)
    )
    head = 'layout = "wide"\nskip_lines = 2\ndelimiter = "\\t"\n'
    head += '[columns]\nathlete = "id"\nmeasured_on = "date"\ntrial = "run"\n'
    return "gates_raw.csv", "\n".join(lines).encode(), head + '[conditions]\ntiming = "electronic"\n' + values


def mat(truth: Truth) -> tuple[str, bytes, str]:
    lines = ['"Sportler";"Tag";"Nr";"Höhe"']
    for a, athlete, d, day in each():
        for jump in (1, 2, 3):
            inches = 14.25 + 1.5 * a + 0.25 * d + 0.15 * jump
            truth[athlete, "countermovement_jump", day, jump] = round(inches, 2) * INCH
            shown = f"{inches:.2f}".replace(".", ",")
            lines.append(f'"{PEOPLE[athlete]}";"{day:%d.%m.%Y}";"{jump}";"{shown}"')
    mapping = """layout = "wide"\ndecimal = ","\ndate_format = "%d.%m.%Y"\nencoding = "windows-1252"\n[columns]
athlete = "Sportler"\nmeasured_on = "Tag"\ntrial = "Nr"\n[conditions]\nmethod = "mat"
[[values]]\nmeasure = "countermovement_jump"\ncolumns = ["Höhe"]\nunit = "in"\n"""
    return "mat_jumps.csv", "\n".join(lines).encode("windows-1252"), mapping


def strength(truth: Truth) -> tuple[str, bytes, str]:
    """A workbook with real dates and repetitions; the estimate is Epley's, load (1 + reps / 30)."""
    book = Workbook()
    sheet = book.active
    sheet.title = "Lifts"
    sheet.append(["Date", "Name", "Exercise", "Load", "Reps", "Remark"])
    for a, athlete, d, day in each():
        pounds, reps = 265 + 25 * a + 5 * d, 3 + d
        truth[athlete, "trap_bar_deadlift", day, 1] = pounds * LB * (1 + reps / 30)
        sheet.append([day, PEOPLE[athlete], "TBDL", pounds, reps, None])
    book.create_sheet("Empty")
    mapping = """layout = "long"\n[columns]\nathlete = "Name"\nmeasured_on = "Date"\nmeasure = "Exercise"
value = "Load"\nreps = "Reps"\n[measure_names]\nTBDL = "trap_bar_deadlift"\n[units]\ntrap_bar_deadlift = "lb"\n"""
    return "lifts.xlsx", saved(book), mapping


def peaks(truth: Truth) -> tuple[str, bytes, str]:
    lines = ["subject,day,segment,peak_rad_s,rep,quality"]
    for a, athlete, d, day in each():
        for rep in (1, 2, 3):
            for segment, level in (("hips", 11.2), ("chest", 16.9)):
                number = round(level + 0.5 * a + 0.1 * d + 0.13 * rep, 3)
                truth[athlete, {"hips": "pelvis", "chest": "torso"}[segment] + "_peak_speed", day, rep] = (
                    number * RAD
                )
                lines.append(f"{athlete},{day},{segment},{number:.3f},{rep},good")
    mapping = """layout = "long"\n[columns]\nathlete = "subject"\nmeasured_on = "day"\nmeasure = "segment"
value = "peak_rad_s"\ntrial = "rep"\n[conditions]\naction = "swing"\nsensor_class = "inertial"
[measure_names]\nhips = "pelvis_peak_speed"\nchest = "torso_peak_speed"
[units]\npelvis_peak_speed = "rad/s"\ntorso_peak_speed = "rad/s"\n"""
    return "peaks.csv", "\n".join(lines).encode(), mapping


def knob(truth: Truth) -> tuple[str, bytes, str]:
    lines = ["swing #,player,ts,bat speed (km/h),notes"]
    for a, athlete, d, day in each():
        for swing in range(1, 6):
            number = round(104 + 3 * a + 0.5 * d + 0.7 * swing, 1)
            truth[athlete, "bat_speed", day, swing] = number * KMH
            lines.append(f'{swing},"{PEOPLE[athlete]}",{day}T10:{swing:02d}:00,{number},"ok, clean"')
    mapping = """layout = "wide"\n[columns]\nathlete = "player"\nmeasured_on = "ts"\ntrial = "swing #"
[[values]]\nmeasure = "bat_speed"\ncolumns = ["bat speed (km/h)"]\nunit = "km/h"\n"""
    return "knob.csv", "\n".join(lines).encode("utf-16"), mapping


def master(truth: Truth) -> tuple[str, bytes, str]:
    book = Workbook()
    sheet = book.active
    sheet.title = "Master"
    sheet["A1"] = "Heath camp, all stations"
    sheet.merge_cells("A1:F1")
    sheet["A2"] = "printed for the wall"
    sheet.append([])
    sheet.append(["Athlete", "Day", "Ht", "Span (in)", "Broad (ft-in)", "Note"])
    for a, athlete, d, day in each():
        span, feet, inches = 70.5 + a + 0.25 * (d == 2), 6 + a // 2, 2.5 + 2 * a + 0.5 * d
        if d == 0:
            truth[athlete, "standing_height", day, 1] = (5 * 12 + 9 + a) * INCH
        truth[athlete, "wingspan", day, 1] = span * INCH
        truth[athlete, "broad_jump", day, 1] = (feet * 12 + inches) * INCH
        height = f"5'{9 + a}\"" if d == 0 else "DNP"
        sheet.append([PEOPLE[athlete], day, height, span, f"{feet}'{inches:g}\"", "-"])
        sheet.append([])
    mapping = """layout = "wide"\nsheet = "Master"\nskip_lines = 3\n[columns]\nathlete = "Athlete"\nmeasured_on = "Day"
[[values]]\nmeasure = "standing_height"\ncolumns = ["Ht"]\nunit = "in"
[[values]]\nmeasure = "wingspan"\ncolumns = ["Span (in)"]\nunit = "in"
[[values]]\nmeasure = "broad_jump"\ncolumns = ["Broad (ft-in)"]\nunit = "in"\n"""
    return "master.xlsx", saved(book), mapping


def saved(book: Workbook) -> bytes:
    out = BytesIO()
    book.save(out)
    return out.getvalue()


FILES = (scale, radar, gates, mat, strength, peaks, knob, master)


@pytest.fixture(scope="module")
def imported(tmp_path_factory: pytest.TempPathFactory) -> tuple[Camp, Truth, dict[str, Truth]]:
    camp, full, by_file = small_camp(tmp_path_factory.mktemp("devices")), Truth(), {}
    for n, make in enumerate(FILES):
        truth: Truth = {}
        name, content, mapping = make(truth)
        toml = camp.write(f"{Path(name).stem}.toml", f'name = "{name}"\nkind = "readings"\n{mapping}')
        take = import_files if n == len(FILES) - 1 else land_files
        take(camp.root, [camp.write(name, content)], "tester", toml)
        full, by_file[name] = full | truth, truth
    return camp, full, by_file


def test_every_value_stored_is_the_true_one(imported: tuple[Camp, Truth, dict[str, Truth]]) -> None:
    camp, truth, _ = imported
    stored = {
        (a, m, day, trial): value
        for a, m, day, trial, value in camp.rows(
            "select athlete_id, measure, measured_on, trial, value from reading"
        )
    }
    wrong = {
        key: (value, truth.get(key))
        for key, value in stored.items()
        if truth.get(key) != pytest.approx(value, rel=1e-9)
    }
    assert wrong == {}
    assert camp.rows("select count(*) from reading") == [(len(stored),)]
    missing = truth.keys() - stored.keys()
    held = set(camp.rows("select athlete_id, measure, measured_on from held_row"))
    assert {key for key in missing if key[:3] not in held} == set()
    assert len(missing) == 0, camp.rows("select rule, reason, count(*) from held_row group by all")


def test_what_cannot_be_known_is_held_and_every_cell_is_counted(
    imported: tuple[Camp, Truth, dict[str, Truth]],
) -> None:
    camp, _, by_file = imported
    counts = {
        name: (rows_in, taken, held)
        for name, rows_in, taken, held in camp.rows(
            "select file_name, rows_in, rows_taken, rows_held from import where file_name not in "
            "('roster.csv', 'camps.csv', 'stays.csv')"
        )
    }
    expected = {name: (len(truth), len(truth), 0) for name, truth in by_file.items()}
    expected["radar_pocket.csv"] = (27, 0, 27)  # slots are nobody
    expected["master.xlsx"] = (27, 21, 6)  # "DNP" is no height
    assert counts == expected
