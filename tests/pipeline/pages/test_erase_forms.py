"""Erasing an athlete whose values stand side by side, below one name, under a title, across, or are formulas."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from datetime import date

import pytest
from openpyxl.workbook import Workbook

from latewood.pipeline.care.erase import Decided, erase
from latewood.pipeline.care.erase_book import rows_of_book
from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.look.accept import accept, look_at
from latewood.pipeline.ingest.program import prepare_folder
from tests.conftest import PROGRAM, Camp, without_fits
from tests.look_camp import ATHLETES, CAMPS, ROSTER, STAYS, saved
from tests.pipeline.pages.test_erase_look import left_of

pytestmark = pytest.mark.slow  # a camp is taken in, built and erased from

GONE, ID = "Benjamin Rushford", "L2"
NAMES = [ATHLETES[who] for who in ("L1", "L2", "L3", "L6")]
DAYS = (date(2032, 6, 9), date(2032, 6, 21))
Files = dict[str, bytes]


def side_by_side() -> bytes:
    """Two tables beside each other, sorted by another measure each: a line holds two athletes."""
    lines = ["Player,Date,Wt (lb),,Player,Date,10 yd (s)"]
    for n, name in enumerate(NAMES):
        lines.append(f"{name},{DAYS[0]},{141.5 + n},,{NAMES[n - 1]},{DAYS[1]},{1.71 + n / 100}")
    return "\n".join(lines).encode()


def side_by_side_book() -> bytes:
    """The same as a workbook, with another athlete's row where theirs is."""
    book = Workbook()
    book.active.append(["Player", "Date", "Vert (in)", None, "Player", "Date", "Wingspan (cm)"])
    for n, name in enumerate(NAMES):
        book.active.append([name, DAYS[0], 21.5 + n, None, NAMES[n - 2], DAYS[1], 171 + n])
    return saved(book)


def merged_names() -> bytes:
    """A name once, in merged cells or above blank ones."""
    book = Workbook()
    sheet = book.active
    sheet.append(["Player", "Date", "Trial", "Throw velo (mph)"])
    for n, name in enumerate(NAMES):
        for k in range(3):
            sheet.append([None if k else name, None if k else DAYS[0], k + 1, 61.5 + 3 * n + k])
    sheet.merge_cells("A5:A7")
    return saved(book)


def titled_sheets() -> bytes:
    """A sheet for each athlete, whose name stands above the table and nowhere else."""
    book = Workbook()
    book.remove(book.active)
    for n, name in enumerate(NAMES):
        sheet = book.create_sheet(f"Card {n + 1}")
        sheet.append([f"Athlete: {name}"])
        sheet.append(["Date", "Exit velo (mph)"])
        for k, day in enumerate(DAYS):
            sheet.append([day, 70.5 + 2 * n + k])
    return saved(book)


def across() -> bytes:
    """An athlete is a column."""
    rows = [
        ["Fen camp, June 9, 2032"],
        ["Test", *NAMES],
        ["Broad jump (cm)", *range(201, 205)],
        ["Pop time (s)", 2.01, 2.02, 2.03, 2.04],
    ]
    return "\r\n".join(",".join(map(str, row)) for row in rows).encode()


def wall() -> bytes:
    """An athlete is two columns of a workbook, below one merged name."""
    book = Workbook()
    book.active.append(["Pull-ups and grip"])
    book.active.append(["", *(cell for name in NAMES for cell in (name, None))])
    book.active.append(["Test", *DAYS * 4])
    book.active.append(["Pitch velo (mph)", *(60.5 + n for n in range(8))])
    for cells in ("B2:C2", "D2:E2", "F2:G2", "H2:I2"):
        book.active.merge_cells(cells)
    return saved(book)


def reckoned() -> bytes:
    """Values that are formulas with their results, as a spreadsheet program saves them."""
    book = Workbook()
    book.active.append(["Player", "Date", "30 yd (s)"])
    for n, name in enumerate(NAMES):
        book.active.append([name, DAYS[0], f"=4+0.2+{n}/100"])
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(saved(book))) as old, zipfile.ZipFile(made, "w") as new:
        for one in old.namelist():
            text = old.read(one)
            if one.startswith("xl/worksheets/"):
                text = re.sub(rb"<f>4\+0\.2\+(\d)/100</f><v ?/>", rb"<f>4+0.2+\1/100</f><v>4.2\1</v>", text)
            new.writestr(one, text)
    return made.getvalue()


FILES: Files = {
    "side.csv": side_by_side(),
    "side.xlsx": side_by_side_book(),
    "merged.xlsx": merged_names(),
    "cards.xlsx": titled_sheets(),
    "across.csv": across(),
    "wall.xlsx": wall(),
    "reckoned.xlsx": reckoned(),
}
OF_EACH = {
    "body_mass": 1, "sprint_10yd": 1, "countermovement_jump": 1, "wingspan": 1, "throw_speed": 3, "exit_speed": 2,
    "broad_jump": 1, "pop_time": 1, "pitch_speed": 2, "sprint_30yd": 1,
}  # fmt: skip
VALUES = "select athlete_id, measure, measured_on, trial, round(value, 6) from reading order by all"


@pytest.fixture(scope="module")
def taken(tmp_path_factory: pytest.TempPathFactory) -> tuple[Camp, list[tuple[object, ...]]]:
    """The camp after the erasure, and the values of the others before it."""
    folder = tmp_path_factory.mktemp("erase_forms")
    camp = Camp(root=folder / "data", inbox=folder / "inbox")
    prepare_folder(camp.root)
    (camp.root / "program.toml").write_text(PROGRAM, encoding="utf-8")
    with without_fits():
        people = {"roster.csv": ROSTER, "camps.csv": CAMPS, "stays.csv": STAYS}
        import_files(camp.root, [camp.write(*one) for one in people.items()], "tester")
        answers: dict[str, str] = {}
        for _ in range(3):
            looks = look_at(camp.root, list(FILES.items()), answers)
            answers |= {
                f"{look.name} > {q.key}": q.proposed for look in looks for p in look.proposals for q in p.open
            }
        _, refused = accept(camp.root, looks, "tester")
        assert refused == []
        counts = camp.rows("select measure, count(*) from reading group by all")
        assert dict(counts) == {measure: 4 * n for measure, n in OF_EACH.items()}
        before = [row for row in camp.rows(VALUES) if row[0] != ID]
        assert len(left_of(camp.root, "rushford")) > len(FILES)
        erase(camp.root, ID, "Odalys", Decided(rest="take"))
    return camp, before


def test_no_copy_names_them_and_the_values_of_the_others_stay(taken) -> None:
    camp, before = taken
    assert left_of(camp.root, "rushford") == []
    assert camp.rows(VALUES) == before
    with without_fits():
        build(camp.root)
    assert camp.rows(VALUES) == before


@pytest.mark.parametrize(
    ("name", "gone"),
    [
        ("side.csv", ("142.5", "1.73")), ("side.xlsx", ("22.5", "174")), ("merged.xlsx", ("64.5", "65.5", "66.5")),
        ("cards.xlsx", ("72.5", "73.5")), ("across.csv", ("202", "2.02")), ("wall.xlsx", ("62.5", "63.5")),
        ("reckoned.xlsx", ("4.21",)),
    ],
)  # fmt: skip
def test_their_numbers_go_with_their_name(taken, name: str, gone: tuple[str, ...]) -> None:
    camp, _ = taken
    (path,) = camp.root.glob(f"landing/*/{name}")
    content = path.read_bytes()
    rows = rows_of_book(content) if name.endswith(".xlsx") else csv.reader(io.StringIO(content.decode()))
    assert not set(gone) & {cell for row in rows for cell in row}
