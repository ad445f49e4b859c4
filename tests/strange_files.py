"""Files of everyday shapes that once went in wrong or not at all, with the truth of every value in them.

The athletes are those of `look_camp`. Values are in the measure's own unit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from openpyxl import Workbook

from tests.look_camp import ATHLETES, INCH, KMH, LB, MPH, WHO, Key, saved

DAYS = (date(2032, 6, 9), date(2032, 6, 16), date(2032, 7, 20))
NAMES = [ATHLETES[who] for who in WHO]
SHAPES: list[Callable[[], Strange]] = []


@dataclass
class Strange:
    """One file, the truth, the answers a person gives, how many values wait, and the words of a refusal."""

    name: str
    content: bytes
    truth: dict[Key, float] = field(default_factory=dict)
    answers: Mapping[str, str] = field(default_factory=dict)
    held: int = 0
    refused: str = ""


def shape(make: Callable[[], Strange]) -> Callable[[], Strange]:
    SHAPES.append(make)
    return make


def text(*lines: Sequence[object], mark: str = ",", codec: str = "utf-8") -> bytes:
    return "\r\n".join(mark.join(map(str, line)) for line in lines).encode(codec)


def book(*rows: Sequence[object], title: str = "Sheet", merged: Sequence[str] = ()) -> Workbook:
    made = Workbook()
    made.active.title = title
    for row in rows:
        made.active.append(list(row))
    for area in merged:
        made.active.merge_cells(area)
    return made


def each() -> Iterator[tuple[int, str, str]]:
    for n, who in enumerate(WHO):
        yield n, who, ATHLETES[who]


def one(measure: str, values: Sequence[float], day: date = DAYS[0]) -> dict[Key, float]:
    return {(who, measure, day, 1): value for who, value in zip(WHO, values, strict=True)}


def cells(name: str, header: str, written: Sequence[str], truth: dict[Key, float], **more: Any) -> Strange:
    """A table with one column of cells written in several ways."""
    rows = [(who, DAYS[0], cell) for who, cell in zip(NAMES, written, strict=True)]
    return Strange(name, text(("Name", "Date", header), *rows, mark=";"), truth, **more)


@shape
def days_counted_by_a_spreadsheet() -> Strange:
    rows = [(name, (day - date(1899, 12, 30)).days, 60.5 + n) for n, _, name in each() for day in DAYS]
    truth = {(who, "body_mass", day, 1): 60.5 + n for n, who, _ in each() for day in DAYS}
    return Strange("serial.csv", text(("Player", "Date", "Wt (kg)"), *rows), truth)


@shape
def days_counted_by_a_clock() -> Strange:
    moments = [int(datetime(2032, 6, 9 + n, 17, tzinfo=UTC).timestamp()) * 1000 for n in range(4)]
    rows = [(name, moments[n], 70.5 + n) for n, _, name in each()]
    truth = {(who, "exit_speed", date(2032, 6, 9 + n), 1): (70.5 + n) * MPH for n, who, _ in each()}
    return Strange("clock.csv", text(("Name", "timestamp", "Exit velo (mph)"), *rows), truth)


@shape
def months_in_spanish_and_french() -> Strange:
    written = ("9 de agosto de 2032", "10 août 2032", "Mittwoch, 11. August 2032", "Aug 12th, 2032")
    rows = [(name, written[n], 70.5 + n) for n, _, name in each()]
    truth = {(who, "body_mass", date(2032, 8, 9 + n), 1): 70.5 + n for n, who, _ in each()}
    return Strange(
        "fecha.txt", text(("Nombre", "Fecha", "Peso (kg)"), *rows, mark="\t", codec="utf-16"), truth
    )


@shape
def a_phone_with_a_comma_before_the_time() -> Strange:
    rows = [(name, f'"6/{14 + n}/32, 7:05 AM"', 141.5 + n) for n, _, name in each()]
    truth = {(who, "body_mass", date(2032, 6, 14 + n), 1): (141.5 + n) * LB for n, who, _ in each()}
    return Strange(
        "phone.csv", text(("Name", '"Measure date"', "Weight (lb)"), *rows, codec="utf-8-sig"), truth
    )


@shape
def days_without_a_year() -> Strange:
    rows = [(name, f"6/{13 + n}", 70.5 + n) for n, _, name in each()]
    truth = {(who, "body_mass", date(2032, 6, 13 + n), 1): 70.5 + n for n, who, _ in each()}
    return Strange("year.csv", text(("Name", "Date", "Wt (kg)"), *rows), truth)


@shape
def days_that_nobody_reads() -> Strange:
    """Never a constant day in silence: it says that the column of days cannot be read."""
    rows = [(name, f"session {n}", 70.5 + n) for n, _, name in each()]
    answers = {"day": "2032-06-09"}
    return Strange(
        "session.csv",
        text(("Name", "Date", "Wt (kg)"), *rows),
        one("body_mass", (70.5, 71.5, 72.5, 73.5)),
        answers,
    )


@shape
def german_columns() -> Strange:
    rows = [(name, "9. Juni 2032", f"{70 + n},5", f"{175 + n},5") for n, _, name in each()]
    truth = one("body_mass", (70.5, 71.5, 72.5, 73.5)) | one("standing_height", (175.5, 176.5, 177.5, 178.5))
    head = ("Name", "Datum", "Gewicht (kg)", "Größe (cm)")
    return Strange("größen.csv", text(("Spielerliste",), head, *rows, mark=";", codec="windows-1252"), truth)


@shape
def names_in_two_columns_in_french() -> Strange:
    rows = [(name.split()[1], name.split()[0], DAYS[0], 70.5 + n) for n, _, name in each()]
    return Strange(
        "nom.csv",
        text(("Nom", "Prénom", "Date", "Poids (kg)"), *rows),
        one("body_mass", (70.5, 71.5, 72.5, 73.5)),
    )


@shape
def two_tables_below_each_other() -> Strange:
    rows = [(name, DAYS[0], 141.5 + n) for n, _, name in each()]
    sprints = [(name, DAYS[1], 1.71 + n / 100) for n, _, name in each()]
    made = book(
        ("Player", "Date", "Wt (lb)"),
        *rows,
        (),
        ("Second station",),
        ("Player", "Date", "10 yd (s)"),
        *sprints,
    )
    truth = one("body_mass", [(141.5 + n) * LB for n in range(4)])
    return Strange(
        "below.xlsx", saved(made), truth | one("sprint_10yd", [1.71 + n / 100 for n in range(4)], DAYS[1])
    )


@shape
def the_same_measure_in_pounds_below() -> Strange:
    rows = [(name, DAYS[0], 70.5 + n) for n, _, name in each()]
    others = [(name, DAYS[1], 155.5 + n) for n, _, name in each()]
    content = text(("Name", "Date", "Weight (kg)"), *rows, (), ("Name", "Date", "Weight (lb)"), *others)
    truth = one("body_mass", (70.5, 71.5, 72.5, 73.5)) | one(
        "body_mass", [(155.5 + n) * LB for n in range(4)], DAYS[1]
    )
    return Strange("pounds.csv", content, truth)


@shape
def two_tables_side_by_side() -> Strange:
    rows = [(name, DAYS[0], 141.5 + n, "", NAMES[n - 1], DAYS[1], 1.71 + n / 100) for n, _, name in each()]
    truth = one("body_mass", [(141.5 + n) * LB for n in range(4)])
    truth |= {(WHO[n - 1], "sprint_10yd", DAYS[1], 1): 1.71 + n / 100 for n in range(4)}
    return Strange(
        "side.csv", text(("Player", "Date", "Wt (lb)", "", "Player", "Date", "10 yd (s)"), *rows), truth
    )


@shape
def a_day_before_each_number() -> Strange:
    rows = [(name, DAYS[0], 70.5 + n, DAYS[2], 72.5 + n) for n, _, name in each()]
    truth = one("body_mass", (70.5, 71.5, 72.5, 73.5)) | one("body_mass", (72.5, 73.5, 74.5, 75.5), DAYS[2])
    return Strange(
        "twice.csv", text(("Name", "Test 1 date", "Wt (kg)", "Test 2 date", "Wt (kg)"), *rows), truth
    )


@shape
def a_column_for_each_day() -> Strange:
    rows = [(name, *(141.5 + 6 * n + k for k in range(3))) for n, _, name in each()]
    truth = {
        (who, "body_mass", day, 1): (141.5 + 6 * n + k) * LB
        for n, who, _ in each()
        for k, day in enumerate(DAYS)
    }
    return Strange("weekly.csv", text(("Weigh-ins (lb)",), ("Player", *DAYS), *rows), truth)


@shape
def merged_days_over_the_measures() -> Strange:
    head = (None, None, "June 9, 2032", None, "July 20, 2032", None)
    rows = [(*reversed(name.split()), 150.5 + n, 21.5 + n, 152.5 + n, 22.5 + n) for n, _, name in each()]
    made = book(head, ("Last", "First", *("Wt (lb)", "Vert (in)") * 2), *rows, merged=("C1:D1", "E1:F1"))
    truth: dict[Key, float] = {}
    for k, day in ((0, DAYS[0]), (2, DAYS[2])):
        truth |= one("body_mass", [(150.5 + n + k) * LB for n in range(4)], day)
        truth |= one("countermovement_jump", [(21.5 + n + k / 2) * INCH for n in range(4)], day)
    return Strange("coach.xlsx", saved(made), truth)


@shape
def names_merged_over_their_rows() -> Strange:
    rows = [
        (None if k else name, None if k else DAYS[0], k + 1, 1.71 + n / 50 + k / 100)
        for n, _, name in each()
        for k in range(3)
    ]
    truth = {
        (who, "sprint_10yd", DAYS[0], k + 1): 1.71 + n / 50 + k / 100
        for n, who, _ in each()
        for k in range(3)
    }
    made = book(
        ("Player", "Date", "Trial", "10 yd (s)"),
        *rows,
        merged=[f"A{2 + 3 * n}:A{4 + 3 * n}" for n in range(4)],
    )
    return Strange("merged.xlsx", saved(made), truth)


@shape
def a_sheet_for_each_athlete() -> Strange:
    made, truth = Workbook(), {}
    made.remove(made.active)
    for n, who, name in each():
        sheet = made.create_sheet(name)
        sheet.append(["Date", "Wt (lb)"])
        for k, day in enumerate(DAYS):
            sheet.append([day, 141.5 + n + k])
            truth[who, "body_mass", day, 1] = (141.5 + n + k) * LB
    return Strange("athletes.xlsx", saved(made), truth)


@shape
def the_athlete_in_the_name_of_the_file() -> Strange:
    rows = [(day, 151.5 + k) for k, day in enumerate(DAYS)]
    truth = {("L1", "body_mass", day, 1): (151.5 + k) * LB for k, day in enumerate(DAYS)}
    return Strange("weights_Silas Oakmere.csv", text(("Date", "Weight (lb)"), *rows), truth)


@shape
def a_line_of_units_below_the_header() -> Strange:
    rows = [(name, DAYS[0], 70.5 + n, 21.5 + n) for n, _, name in each()]
    content = text(("Name", "Date", "Exit velo", "Vert"), ("", "", "mph", "in"), ("", "", "", ""), *rows)
    truth = one("exit_speed", [(70.5 + n) * MPH for n in range(4)])
    return Strange(
        "units.csv", content, truth | one("countermovement_jump", [(21.5 + n) * INCH for n in range(4)])
    )


@shape
def the_unit_of_each_row() -> Strange:
    rows = [(name, DAYS[0], 70.5 if n % 2 else 113.5, "mph" if n % 2 else "km/h") for n, _, name in each()]
    truth = one("exit_speed", [70.5 * MPH if n % 2 else 113.5 * KMH for n in range(4)])
    return Strange("rows.csv", text(("Name", "Date", "Exit velo", "Units"), *rows), truth)


@shape
def the_same_number_in_two_units() -> Strange:
    rows = [(name, DAYS[0], 70.5 + n, round((70.5 + n) * 1.609344, 1)) for n, _, name in each()]
    truth = one("exit_speed", [(70.5 + n) * MPH for n in range(4)])
    return Strange("both.csv", text(("Name", "Date", "EV (mph)", "EV (km/h)"), *rows), truth)


@shape
def an_id_beside_the_name_of_another() -> Strange:
    """Which of the two counts is asked, with the first row that differs."""
    rows = [(who, NAMES[1] if who == "L1" else name, DAYS[0], 70.5 + n) for n, who, name in each()]
    answers = {"athlete: column": "ID"}
    return Strange(
        "ids.csv",
        text(("ID", "Player", "Date", "Wt (kg)"), *rows),
        one("body_mass", (70.5, 71.5, 72.5, 73.5)),
        answers,
    )


@shape
def repeated_headers_and_remarks() -> Strange:
    rows: list[Sequence[object]] = [(name, DAYS[0], 70.5 + n) for n, _, name in each()]
    rows[2:2] = [("Page 1 of 2", "", ""), ("NAME", "DATE", "EXIT VELO (MPH)")]
    last = [("Note: recalibrated, see sheet 2", "", ""), ("* wet grass", " moved inside")]
    content = text(("Name", "Date", "Exit velo (mph)"), ("Name", "date", "Exit Velo (mph)"), *rows, *last)
    return Strange("pages.csv", content, one("exit_speed", [(70.5 + n) * MPH for n in range(4)]))


@shape
def times_in_several_forms() -> Strange:
    return cells(
        "times.csv",
        "60 yd (s)",
        (":07.21", "7.42s", "00:07.52", "7,31"),
        one("sprint_60yd", (7.21, 7.42, 7.52, 7.31)),
    )


@shape
def heights_in_several_units() -> Strange:
    truth = one("standing_height", (74 * INCH, 188, 185, 71.5 * INCH))
    return cells("heights.csv", "Height", ("6'2\"", "188 cm", "1.85 m", "5’11½”"), truth)


@shape
def feet_and_inches_in_two_columns() -> Strange:
    halves = (("6", "2"), ("5", "11 1/2"), ("5", ""), ("", "71"))
    rows = [(name, DAYS[0], *halves[n], 150 + n) for n, _, name in each()]
    truth = one("standing_height", (74 * INCH, 71.5 * INCH, 0, 0)) | one(
        "body_mass", [(150 + n) * LB for n in range(4)]
    )
    for who in WHO[2:]:  # half a length is none
        del truth[who, "standing_height", DAYS[0], 1]
    content = text(("Name", "Date", "Height (ft)", "Height (in)", "Wt (lbs)"), *rows)
    return Strange("two_columns.csv", content, truth, held=2)


@shape
def days_without_a_year_over_pairs_of_columns() -> Strange:
    rows = [(name, 140 + n, 20 + n, 141 + n, 21 + n) for n, _, name in each()]
    made = book(("Name", "9 Jun", "", "16 Jun", ""), ("", "Wt lb", "Vert in", "Wt lb", "Vert in"), *rows)
    truth = {}
    for day, more in ((DAYS[0], 0), (DAYS[1], 1)):
        truth |= one("body_mass", [(140 + n + more) * LB for n in range(4)], day)
        truth |= one("countermovement_jump", [(20 + n + more) * INCH for n in range(4)], day)
    return Strange("pairs.xlsx", saved(made), truth, {"headers: year": "2032"})


@shape
def days_without_a_year_alone() -> Strange:
    rows = [(name, 60.5 + n, 61.5 + n, 62.5 + n) for n, _, name in each()]
    truth = {}
    for more, day in enumerate((date(2032, 6, 9), date(2032, 6, 16), date(2032, 6, 23))):
        truth |= one("body_mass", [60.5 + n + more for n in range(4)], day)
    answers = {"headers: year": "2032", "days: measure": "Body mass", "Body mass: unit": "kg"}
    return Strange("alone.csv", text(("Player", "6/9", "6/16", "6/23"), *rows), truth, answers)


@shape
def a_name_above_each_block_of_days() -> Strange:
    rows = [
        line
        for n, _, name in each()
        for line in ((name,), ("Date", "EV (mph)"), (DAYS[0], 70 + n), (DAYS[1], 71 + n), ("",))
    ]
    return Strange("blocks.csv", text(*rows), refused="names stand alone on lines between the rows")


@shape
def one_repetition_maximum_in_the_header() -> Strange:
    rows = [(name, DAYS[0], 135 + 5 * n) for n, _, name in each()]
    truth = one("bench_press", [(135 + 5 * n) * LB for n in range(4)])
    return Strange("bench.tsv", text(("Athlete", "Tested", "Bench 1RM (lbs)"), *rows, mark="\t"), truth)


@shape
def sets_with_and_without_unit() -> Strange:
    truth = one("squat", (225 * LB * 1.1, 100 * (1 + 5 / 30), 225 * LB * 1.1, 0))
    del truth["L6", "squat", DAYS[0], 1]
    return cells("sets.csv", "Squat (lb)", ("225 x 3", "100kg x 5", "225x3 lb", "3 x 225"), truth, held=1)


@shape
def halves_and_marks_between_thousands() -> Strange:
    rows = [(name, DAYS[0], ("21 1/2", "22½", "23.5", "24 1/4")[n], f"1\u202f72{n}") for n, _, name in each()]
    truth = one("countermovement_jump", [v * INCH for v in (21.5, 22.5, 23.5, 24.25)])
    content = text(("Name", "Date", "Vert (in)", "10 yd (ms)"), *rows)
    return Strange("halves.csv", content, truth | one("sprint_10yd", (1.72, 1.721, 1.722, 1.723)))


@shape
def marked_numbers() -> Strange:
    truth = {("L1", "exit_speed", DAYS[0], 1): 78.2 * MPH}
    return cells("marks.csv", "Exit velo (mph)", ("78.2", "79.1*", "~81", "82.5 (tee)"), truth, held=3)


@shape
def a_long_table_with_units_in_the_cells() -> Strange:
    tests = (
        ("Exit velo", "70.5 mph"),
        ("Body weight", "150.5 lbs"),
        ("Height", "5'10\""),
        ("10 yd", "1.71 s"),
    )
    truth = one("exit_speed", [70.5 * MPH] * 4) | one("body_mass", [150.5 * LB] * 4)
    truth |= one("standing_height", [70 * INCH] * 4) | one("sprint_10yd", [1.71] * 4)
    rows = [(name, DAYS[0], *pair) for name in NAMES for pair in tests]
    return Strange("long.csv", text(("Athlete", "Date", "Test", "Result"), *rows, mark=";"), truth)


@shape
def a_hidden_sheet() -> Strange:
    made = book(("Player", "Date", "Wt (kg)"), *((name, DAYS[0], 70.5 + n) for n, _, name in each()))
    hidden = made.create_sheet("old")
    for row in (("Player", "Date", "Wt (kg)"), *((name, DAYS[1], 99.5) for name in NAMES)):
        hidden.append(row)
    hidden.sheet_state = "hidden"
    return Strange("hidden.xlsx", saved(made), one("body_mass", (70.5, 71.5, 72.5, 73.5)))


@shape
def formulas_that_were_never_reckoned() -> Strange:
    made = book(
        ("Player", "Date", "Wt (kg)", "10 yd (s)"), *((name, DAYS[0], "=2*35", 1.71) for name in NAMES)
    )
    return Strange("formulas.xlsx", saved(made), refused="4 formulas have no stored result")


@shape
def a_text_named_as_a_workbook() -> Strange:
    rows = [(name, DAYS[0], 70.5 + n) for n, _, name in each()]
    content = text(("Player", "Date", "Wt (kg)"), *rows, mark="\t")
    return Strange("device.xls", content, one("body_mass", (70.5, 71.5, 72.5, 73.5)))


@shape
def metres_are_no_yards() -> Strange:
    rows = [(name, DAYS[0], 1.81, 4.31) for name in NAMES]
    return Strange(
        "metres.csv", text(("Name", "Date", "10 m (s)", "30m"), *rows), refused="measure of the catalogue"
    )


@shape
def athletes_across() -> Strange:
    head = ("Fen camp, June 9, 2032",)
    rows = (
        ("Test", "Unit", *NAMES, "Average"),
        ("Wt", "kg", 70, 71, 72, 73, 71.5),
        ("10 yd", "s", 1.71, 1.72, "DNF", 1.74, 1.72),
    )
    truth = one("body_mass", (70, 71, 72, 73)) | one("sprint_10yd", (1.71, 1.72, 0, 1.74))
    del truth["L3", "sprint_10yd", DAYS[0], 1]
    return Strange("across.csv", text(head, *rows), truth)


@shape
def athletes_and_their_days_across() -> Strange:
    names = [cell for name in NAMES for cell in (name, None)]
    made = book(
        ("Intake and exit",), ("", *names), ("Test", *(DAYS[0], DAYS[2]) * 4),
        ("Wt (lb)", *(150.5 + n for n in range(8))),
        ("Exit velo (mph)", *(70.5 + n for n in range(8))), merged=("B2:C2", "D2:E2", "F2:G2", "H2:I2"),
    )  # fmt: skip
    truth: dict[Key, float] = {}
    for n, who, _ in each():
        for k, day in enumerate((DAYS[0], DAYS[2])):
            truth[who, "body_mass", day, 1] = (150.5 + 2 * n + k) * LB
            truth[who, "exit_speed", day, 1] = (70.5 + 2 * n + k) * MPH
    return Strange("wall.xlsx", saved(made), truth)


@shape
def a_card_of_one_athlete_with_days_across() -> Strange:
    made = book(
        ("Test", *DAYS), ("Wt (kg)", 70.5, 71.5, 72.5), ("10 yd (s)", 1.73, 1.72, 1.71), title=NAMES[0]
    )
    truth = {("L1", "body_mass", day, 1): 70.5 + n for n, day in enumerate(DAYS)}
    truth |= {("L1", "sprint_10yd", day, 1): 1.73 - n / 100 for n, day in enumerate(DAYS)}
    return Strange("card.xlsx", saved(made), truth)


@shape
def athletes_across_with_nothing_that_is_measured() -> Strange:
    rows = (("", *NAMES), ("Room", 1, 2, 3, 4), ("Locker", 70, 71, 72, 73))
    return Strange("rooms.csv", text(*rows), refused="athletes stand across")


@shape
def minutes_and_a_comma_behind_a_mark_of_order() -> Strange:
    rows = [
        (name, f"{9 + k:02}.06.2032", f"{70 + n},5", f"0:07,{21 + n + k}")
        for n, _, name in each()
        for k in (0, 1)
    ]
    truth: dict[Key, float] = {}
    for n, who, _ in each():
        for k in (0, 1):
            truth[who, "body_mass", date(2032, 6, 9 + k), 1] = 70.5 + n
            truth[who, "sprint_60yd", date(2032, 6, 9 + k), 1] = 7.21 + (n + k) / 100
    head = ("Name", "Datum", "Gewicht kg", "60 yd")
    return Strange("bom.csv", text(head, *rows, mark=";", codec="utf-8-sig"), truth)


@shape
def weights_with_halves_commas_and_units() -> Strange:
    truth = one("body_mass", (82.5, 181.5 * LB, 79, 176 * LB))
    return cells("mix.csv", "Body weight", ("82,5 kg", "181 1/2 lb", "79 kg", "176 lbs"), truth)


@shape
def footnotes_on_numbers() -> Strange:
    truth = {("L6", "pitch_speed", DAYS[0], 1): 90 * MPH}
    return cells("foot.csv", "Pitch velo (mph)", ("94*", "92†", "91 (1)", "90"), truth, held=3)


@shape
def a_suffix_and_a_column_of_two_things() -> Strange:
    rows = [(name + " Jr." * (n == 0), "OF/R", DAYS[0], 78.5 + n) for n, _, name in each()]
    content = text(("Player", "Pos/Bats", "Date", "Exit Velo (mph)"), *rows)
    return Strange("jr.csv", content, one("exit_speed", [(78.5 + n) * MPH for n in range(4)]))


@shape
def a_summary_before_the_data() -> Strange:
    made = book(
        ("Fen camp summary",), ("Measure", "Average", "Best"), ("Wt (lb)", 151.2, 160), title="Summary"
    )
    data = made.create_sheet("Data")
    for row in (("Player", "Date", "Wt (lb)"), *((name, DAYS[0], 150.5 + n) for n, _, name in each())):
        data.append(row)
    return Strange("summary.xlsx", saved(made), one("body_mass", [(150.5 + n) * LB for n in range(4)]))


@shape
def a_hidden_column_and_numbers_that_are_text() -> Strange:
    rows = [(name, str(DAYS[0]), "140", f"{150.5 + n}") for n, _, name in each()]
    made = book(("Player", "Date", "Old Wt (lb)", "Wt (lb)"), *rows)
    made.active.column_dimensions["C"].hidden = True
    answers = {"Sheet Old Wt (lb): measure": "leave it out", "Old Wt (lb): measure": "leave it out"}
    return Strange("old.xlsx", saved(made), one("body_mass", [(150.5 + n) * LB for n in range(4)]), answers)


@shape
def two_units_below_merged_heads() -> Strange:
    head = ("Player", "Date", "Exit velo", None, "Pitch velo", None)
    below = (None, None, "mph 1", "mph 2", "km/h 1", "km/h 2")
    rows = [(name, DAYS[0], 70.5 + n, 71.5 + n, 110 + n, 111 + n) for n, _, name in each()]
    truth: dict[Key, float] = {}
    for n, who, _ in each():
        for k in (0, 1):
            truth[who, "exit_speed", DAYS[0], k + 1] = (70.5 + n + k) * MPH
            truth[who, "pitch_speed", DAYS[0], k + 1] = (110 + n + k) * KMH
    return Strange("units.xlsx", saved(book(head, below, *rows, merged=("C1:D1", "E1:F1"))), truth)


@shape
def yes_and_no_fouls_and_feet_with_a_dash() -> Strange:
    rows = [
        (name, DAYS[0], "no" if n else "yes", f"{6 + n}-{3 + n}", f"{6 + n}-{4 + n}", "X")
        for n, _, name in each()
    ]
    truth = {
        (who, "broad_jump", DAYS[0], k + 1): (75 + 13 * n + k) * INCH for n, who, _ in each() for k in (0, 1)
    }
    return Strange(
        "jump.csv", text(("Name", "Date", "Warmed up", "Broad 1", "Broad 2", "Broad 3"), *rows), truth
    )


@shape
def days_of_the_week() -> Strange:
    rows = [(name, 150 + n, 151 + n, 152 + n) for n, _, name in each()]
    content = text(("Week of June 7 2032",), ("Wt (lb)", "Mon", "Tue", "Wed"), *rows)
    return Strange("week.csv", content, refused="columns are headed by days of the week (Mon, Tue, Wed)")


@shape
def names_alone_on_a_line() -> Strange:
    lines: list[Sequence[object]] = [("Date", "Wt (kg)", "10 yd (s)")]
    for n, _, name in each():
        lines += [(name, "", ""), (DAYS[0], 70.5 + n, 1.71), (DAYS[1], 71.5 + n, 1.72)]
    return Strange("groups.csv", text(*lines), refused="names stand alone on lines between the rows (line 2)")
