"""An invented camp whose staff keep eight kinds of sheets of their own, with the truth of every value in them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from io import BytesIO

from openpyxl import Workbook

LB, MPH, KMH, INCH = 0.45359237, 0.44704, 1 / 3.6, 2.54
ATHLETES = {
    "L1": "Silas Oakmere",
    "L2": "Benjamin Rushford",
    "L3": "Inés Holloway",
    "L4": "Perrin Vance",
    "L5": "Perrin Vance",
    "L6": "Theodora Quill",
}
ROSTER = (
    "athlete_id,name,birth_date,sex,sport,graduation_year,positions,bats,throws,aliases\n"
    "L1,Silas Oakmere,2016-02-11,male,baseball,2034,OF,R,R,\n"
    "L2,Benjamin Rushford,2015-08-05,male,baseball,2033,C,L,R,\n"
    "L3,Inés Holloway,2016-10-20,female,softball,2035,P,S,L,\n"
    "L4,Perrin Vance,2016-01-12,male,baseball,2034,SS,R,R,\n"
    "L5,Perrin Vance,2017-01-22,male,baseball,2035,2B,R,R,\n"
    "L6,Theodora Quill,2016-05-09,female,softball,2034,1B,R,R,\n"
)
CAMPS = (
    "camp_id,label,starts_on,ends_on,time_zone,place\nM,Fen camp,2032-06-01,2032-08-15,America/Chicago,Barn\n"
)
STAYS = "athlete,camp,arrived_on,left_on,planned_until,leave_reason\n" + "".join(
    f"{a},M,2032-06-01,,,\n" for a in ATHLETES
)
DAYS = [date(2032, 6, 9) + timedelta(days=n) for n in (0, 12, 26)]
WHO = ("L1", "L2", "L3", "L6")  # the two of one name only where a family is about them
Key = tuple[str, str, date, int]


@dataclass
class Family:
    """One file: its bytes, what it truly holds, the answers a steward gives, and what must be asked."""

    name: str
    content: bytes
    truth: dict[Key, float]
    answers: Mapping[str, str] = field(default_factory=dict)
    asked: tuple[str, ...] = ()  # keys of questions that must be open before any answer


def each() -> Iterator[tuple[int, str, int, date]]:
    for a, athlete in enumerate(WHO):
        for d, day in enumerate(DAYS):
            yield a, athlete, d, day


def saved(book: Workbook) -> bytes:
    out = BytesIO()
    book.save(out)
    return out.getvalue()


def bathroom_scale(shift: int = 0) -> Family:
    """Last name first, a comma for the point, day.month.year, pounds in the header, a footer and a remark."""
    truth: dict[Key, float] = {}
    lines = ["Weigh-ins, barn scale", "", "Who;Datum;Wt (lbs);Note"]
    for a, athlete, d, day in each():
        pounds = 141.6 + 9.4 * a + 0.8 * d
        day += timedelta(days=shift)
        truth[athlete, "body_mass", day, 1] = pounds * LB
        first, last = ATHLETES[athlete].split()
        lines.append(f"{last.upper()}, {first};{day:%d.%m.%Y};{pounds:.1f};".replace(".", ",", 0))
    lines = [line if "Who" in line else _comma(line) for line in lines]
    lines += ["Team average;;150,1;", ";;;", "checked by the night staff;;;"]
    content = "\r\n".join(lines).encode("windows-1252")
    return Family(f"barn_scale{shift or ''}.csv", content, truth)


def _comma(line: str) -> str:
    cells = line.split(";")
    return ";".join([*cells[:2], *(c.replace(".", ",") for c in cells[2:])])


def combine_sheet() -> Family:
    """A workbook with a merged title, two header lines, a spacer column, feet and inches, words for no value."""
    book, truth = Workbook(), {}
    sheet = book.active
    sheet.title = "Combine"
    sheet["A1"] = "Fen camp combine"
    sheet.merge_cells("A1:H1")
    sheet.append([])
    sheet.append(["Player", "Date", None, "Sprint", None, "Jumps", None, "Best 60"])
    sheet.append([None, None, None, "10 yd (s)", "60 yd (s)", "Vert (in)", "Broad", "(s)"])
    for a, athlete, d, day in each():
        ten, sixty = round(1.71 + 0.03 * a - 0.01 * d, 2), round(7.12 + 0.09 * a - 0.03 * d, 2)
        vert, feet, inches = 21.5 + 0.5 * a + 0.5 * d, 6 + a // 2, 3 + a + d
        out = a == 2 and d == 1
        truth[athlete, "sprint_10yd", day, 1] = ten
        truth[athlete, "countermovement_jump", day, 1] = vert * INCH
        truth[athlete, "broad_jump", day, 1] = (12 * feet + inches) * INCH
        if not out:
            truth[athlete, "sprint_60yd", day, 1] = sixty
        row = [ATHLETES[athlete], day, None, ten, "DNF" if out else sixty, vert, f"{feet}'{inches}\""]
        sheet.append([*row, "DNF" if out else sixty])
    sheet.append(["Averages", None, None, 1.7, 7.2, 22.0, None, 7.1])
    return Family("combine.xlsx", saved(book), truth, {})


def pocket_radar() -> Family:
    """No unit anywhere, day and month in either order, trials in columns, a best beside them."""
    truth: dict[Key, float] = {}
    lines = ["name,date,EV 1,EV 2,EV 3,EV max,target EV"]
    for a, athlete, d, day in each():
        day = date(2032, 6 + d, 8 + a)
        hits = [round(71.2 + 2.5 * a + d + 0.9 * k, 1) for k in range(3)]
        for k, hit in enumerate(hits):
            truth[athlete, "exit_speed", day, k + 1] = hit * MPH
        lines.append(
            f"{ATHLETES[athlete]},{day:%m/%d/%Y},{','.join(map(str, hits))},{max(hits)},{max(hits) + 5:.0f}"
        )
    answers = {"date: order": "month first", "Exit speed: unit": "mph"}
    return Family("pocket.csv", "\n".join(lines).encode(), truth, answers, tuple(answers))


def lift_log() -> Family:
    """Long, '225x3' no; load and repetitions apart, exercises by their gym names, pounds nowhere, split names."""
    book, truth = Workbook(), {}
    sheet = book.active
    sheet.append(["First", "Last", "Day", "Lift", "Load", "Reps"])
    for a, athlete, d, day in each():
        for lift, key, base in (("Hex Bar", "trap_bar_deadlift", 245), ("Bench", "bench_press", 125)):
            load, reps = base + 10 * a + 5 * d, 2 + d
            truth[athlete, key, day, 1] = load * LB * (1 + reps / 30)
            sheet.append([*ATHLETES[athlete].split(), day, lift, load, reps])
    answers = {"Hex Bar: unit": "lb", "Bench: unit": "lb"}
    return Family("lift log.xlsx", saved(book), truth, answers, tuple(answers))


def sets_on_paper() -> Family:
    """One cell a set, load x repetitions, with the day above the header."""
    truth: dict[Key, float] = {}
    lines = ["Strength test of 23 June 2032\t\t", "Athlete\tTrap bar (lb)\tCoach"]
    for a, athlete in enumerate(WHO):
        load, reps = 255 + 15 * a, 3 + a % 2
        truth[athlete, "trap_bar_deadlift", date(2032, 6, 23), 1] = load * LB * (1 + reps / 30)
        lines.append(f"{ATHLETES[athlete]}\t{load}x{reps}\tnight staff")
    return Family("sets.txt", "\n".join(lines).encode("utf-16"), truth)


def gate_files() -> Family:
    """The day in the file's name, milliseconds with thousands marks, a column that says which runs count."""
    truth: dict[Key, float] = {}
    lines = ["athlete,run,10 yd (ms),30 yd (ms),status"]
    for a, athlete in enumerate(WHO):
        for run in (1, 2, 3):
            ten, thirty = 1720 + 25 * a + 8 * run, 4110 + 40 * a + 11 * run
            good = not (a == 1 and run == 2)
            lines.append(f'{athlete},{run},"{ten:,}","{thirty:,}",{"ok" if good else "beam lost"}')
            if good:
                truth[athlete, "sprint_10yd", date(2032, 6, 30), run] = ten / 1000
                truth[athlete, "sprint_30yd", date(2032, 6, 30), run] = thirty / 1000
    requested = {"status: rows": "only ok"}
    return Family("gates_2032-06-30.csv", "\n".join(lines).encode(), truth, requested, tuple(requested))


def two_of_a_name() -> Family:
    """Nicknames, a slip of the pen, and two athletes of one name."""
    truth: dict[Key, float] = {}
    names = {"Ben Rushford": "L2", "Theadora Quil": "L6", "Perrin Vance": "L4"}
    lines = ["player|session date|pop time (s)|trial"]
    for n, (text, athlete) in enumerate(names.items()):
        for trial in (1, 2):
            seconds = round(2.04 + 0.05 * n + 0.02 * trial, 2)
            truth[athlete, "pop_time", DAYS[1], trial] = seconds
            lines.append(f"{text}|{DAYS[1]}|{seconds}|{trial}")
    answers = {f"name {text}": athlete for text, athlete in names.items()}
    return Family("pops.csv", "\n".join(lines).encode(), truth, answers, tuple(answers))


def season_book() -> Family:
    """Two sheets of one workbook, each with its own table, days in more than one form, units within the cells."""
    book, truth = Workbook(), {}
    sizes, balls = book.active, book.create_sheet("Balls")
    sizes.title = "Sizes"
    sizes.append(["Athlete", "Measured", "Span", "Mass"])
    balls.append(["Thrower", "When", "Throw velo (km/h)", "Throw velo (km/h)"])
    for a, athlete, d, day in each():
        day += timedelta(days=1)  # no day of the other families
        shown = day.isoformat() if d == 0 else f"{day:%d.%m.%Y}" if d == 1 else f"{day:%d %b %Y}"
        span, mass = 168 + 3 * a + 0.5 * d, 61.5 + 2 * a + 0.3 * d
        throws = [round(104.5 + 3 * a + d + 1.1 * k, 1) for k in (0, 1)]
        sizes.append([ATHLETES[athlete], shown, f"{span} cm", f"{mass:.1f} kg"])
        balls.append([ATHLETES[athlete], day, *throws])
        truth[athlete, "wingspan", day, 1] = span
        truth[athlete, "body_mass", day, 1] = mass
        for k, throw in enumerate(throws):
            truth[athlete, "throw_speed", day, k + 1] = throw * KMH
    return Family("season.xlsx", saved(book), truth)


FAMILIES = (
    bathroom_scale,
    combine_sheet,
    pocket_radar,
    lift_log,
    sets_on_paper,
    gate_files,
    two_of_a_name,
    season_book,
)
