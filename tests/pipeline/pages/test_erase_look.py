"""Erasing an athlete whose rows came in by a look at sheets made by hand: the others keep theirs, the name is gone."""

from __future__ import annotations

import gzip
import io
import zipfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import duckdb
import openpyxl
import pytest
from openpyxl.workbook import Workbook
from pyarrow import parquet

from latewood.pipeline.care.erase import Decided, erase
from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.files.tidy import made_id
from latewood.pipeline.ingest.look.accept import accept, look_at
from latewood.pipeline.ingest.look.proposal import NOBODY
from latewood.pipeline.ingest.program import prepare_folder
from tests.conftest import PROGRAM, Camp
from tests.look_camp import CAMPS, saved

pytestmark = pytest.mark.slow  # a camp is taken in, built and erased from

GONE = "Benjamin Rushford"
PEOPLE = {
    "Silas Oakmere": ("2016-02-11", "male", "baseball", "OF"),
    GONE: ("2015-08-05", "male", "baseball", "C"),
    "Inés Holloway": ("2016-10-20", "female", "softball", "P"),
    "Theodora Quill": ("2016-05-09", "female", "softball", "1B"),
}
DAYS = (date(2032, 6, 9), date(2032, 6, 21))
Files = dict[str, bytes]


def roster() -> bytes:
    """A title, first and last name apart with a column between, no ids."""
    book = Workbook()
    book.active.append(["Fen camp roster"])
    book.active.append(["First", "Sport", "Last", "DOB", "Sex", "Pos"])
    for name, (born, sex, sport, place) in PEOPLE.items():
        first, last = name.split()
        book.active.append([first, sport, last, born, sex, place])
    return saved(book)


def scale() -> bytes:
    """Last name first in capitals, a footer right below one of their rows, a remark that names them."""
    lines = ["Weigh-ins", "Who;Datum;Wt (lbs);Note"]
    for day in DAYS:
        for n, name in enumerate([*list(PEOPLE)[2:], *list(PEOPLE)[:2]]):
            first, last = name.split()
            lines.append(f"{last.upper()}, {first};{day:%d.%m.%Y};{141 + 9 * n}.6;")
        lines.append("Team average;;150.1;")
    return "\r\n".join([*lines, "asked Benjamin Rushford again;;;"]).encode("windows-1252")


def gates() -> bytes:
    """Rows that do not count beside rows that do; a nickname; the day in the file's name."""
    lines = ["athlete,run,10 yd (ms),status"]
    names = ["Ben Rushford" if name == GONE else name for name in PEOPLE]
    for n, name in enumerate(names):
        for run, status in ((1, "ok"), (2, "beam lost"), (3, "ok")):
            lines.append(f"{name},{run},{1720 + 25 * n + 8 * run},{status}")
    lines += ["Silas Oakmere,4,1999,beam lost", "Ben Rushford,4,1998,beam lost", "Inés Holloway,4,1997,ok"]
    return "\n".join(lines).encode()


def lifts() -> bytes:
    """First and last name apart in a sheet, header over two lines; the same again in a sheet that nobody reads."""
    book = Workbook()
    sheet = book.active
    sheet.title = "Jumps"
    sheet.append(["First", "Group", "Last", "Day", "Jumps", None])
    sheet.append([None, None, None, None, "Vert (cm)", "Broad (cm)"])
    for day in DAYS:
        for n, name in enumerate(PEOPLE):
            first, last = name.split()
            sheet.append([first, "A", last, day, 52 + n, 205 + n])
    other = book.create_sheet("Rooms")
    other.append(["Room", "First", "Last", "Phone"])
    for n, name in enumerate(PEOPLE):
        other.append([100 + n, *name.split(), f"555-010{n}"])
    return saved(book)


def two_sheets() -> bytes:
    """Two sheets that are both read, in which the same line is another athlete's."""
    book = Workbook()
    sizes, balls = book.active, book.create_sheet("Balls")
    sizes.title = "Sizes"
    sizes.append(["Athlete", "Measured", "Span (cm)"])
    balls.append(["Thrower", "When", "Throw velo (km/h)"])
    for n, name in enumerate(PEOPLE):
        sizes.append([name, DAYS[0], 168 + n])
    for n, name in enumerate(reversed(PEOPLE)):
        balls.append([name, DAYS[0], 104 + n])
    return saved(book)


def lanes() -> bytes:
    """Places instead of names: the second lane is theirs by an answer; one of its rows holds no number."""
    lines = ["Lane,date,Pop time (s),Note"]
    for lane in (1, 2, 3):
        lines += [f"{lane},{DAYS[0]},2.0{lane},", f"{lane},{DAYS[1]},DNF,knee of lane {lane}"]
    return "\n".join(lines).encode()


def alone() -> bytes:
    """Nobody else's file: the name stands in the file's name too, and the day only there."""
    return b"athlete,Exit velo (mph)\nBenjamin Rushford,71.5\nBenjamin Rushford,72.5\nSilas Oakmere,70.5\n"


def named_sheets() -> bytes:
    """A sheet of their own by their name, one that carries it and holds others, and one of somebody else."""
    book = Workbook()
    own, group, other = book.active, book.create_sheet("With Benjamin Rushford"), book.create_sheet("Quill")
    own.title = "Rushford, Benjamin"
    for sheet, names in ((own, [GONE]), (group, [GONE, "Silas Oakmere"]), (other, ["Theodora Quill"])):
        sheet.append(["Athlete", "Date", "Pitch velo (mph)"])
        for n, name in enumerate(names):
            day = DAYS[0] if sheet is own else DAYS[1]
            sheet.append([name, day, 61 + n])
    return saved(book)


FILES: Files = {
    "players.xlsx": roster(),
    "scale.csv": scale(),
    "gates_2032-06-30.csv": gates(),
    "jumps.xlsx": lifts(),
    "season.xlsx": two_sheets(),
    "lanes.csv": lanes(),
    "pitches.xlsx": named_sheets(),
    "Rushford Benjamin 2032-07-02.csv": alone(),
}


def answers() -> dict[str, str]:
    ids = {name: made_id(name) for name in PEOPLE}
    return {
        "status: rows": "only ok",
        "name Ben Rushford": ids[GONE],
        "name Lane 1": ids["Silas Oakmere"],
        "name Lane 2": ids[GONE],
        "name Lane 3": ids["Inés Holloway"],
    }


@pytest.fixture(scope="module")
def taken(tmp_path_factory: pytest.TempPathFactory) -> Camp:
    folder = tmp_path_factory.mktemp("erase_look")
    camp = Camp(root=folder / "data", inbox=folder / "inbox")
    prepare_folder(camp.root)
    (camp.root / "program.toml").write_text(PROGRAM, encoding="utf-8")
    first = [("players.xlsx", FILES["players.xlsx"])]
    _, refused = accept(camp.root, look_at(camp.root, first, {}), "tester")
    assert refused == []
    stays = "athlete,camp,arrived_on,left_on,planned_until,leave_reason\n"
    stays += "".join(f"{name},M,2032-06-01,,,\n" for name in PEOPLE)
    import_files(camp.root, [camp.write("camps.csv", CAMPS), camp.write("stays.csv", stays)], "tester")
    rest = [(name, content) for name, content in FILES.items() if name != "players.xlsx"]
    _, refused = accept(camp.root, look_at(camp.root, rest, answers()), "tester")
    assert refused == []
    return camp


OTHERS = """
select athlete_id, measure, measured_on, trial, round(value, 6) from reading where athlete_id <> $gone order by all
"""


def others(camp: Camp) -> list[tuple[object, ...]]:
    return camp.rows(OTHERS.replace("$gone", f"'{made_id(GONE)}'"))


def texts_in(path: Path) -> Iterator[str]:
    """Every text of a file, unpacked: tables by cell, workbooks by cell, archives by member, else its bytes."""
    if path.suffix == ".duckdb":
        with duckdb.connect(str(path), read_only=True) as connection:
            for (table,) in connection.execute("select table_name from duckdb_tables()").fetchall():
                for row in connection.execute(f'select * from "{table}"').fetchall():
                    yield " ".join(map(str, row))
    elif path.suffix == ".parquet":
        yield str(parquet.read_table(path).to_pylist())
    else:
        yield from texts_of(path.read_bytes())


def texts_of(content: bytes) -> Iterator[str]:
    if content.startswith(b"\x1f\x8b"):
        yield from texts_of(gzip.decompress(content))
    elif content.startswith(b"PK\x03\x04"):
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            for member in packed.infolist():
                yield member.filename
                yield from texts_of(packed.read(member))
    else:
        for codec in ("utf-8", "windows-1252", "utf-16-le"):
            yield content.decode(codec, errors="replace")


def left_of(root: Path, *words: str) -> list[str]:
    """The files of a folder in which one of the words stands, in any case."""
    result = []
    for path in sorted(root.rglob("*")):
        texts = [path.name, *(texts_in(path) if path.is_file() else ())]
        result += [f"{path.relative_to(root)}: {w}" for w in words if any(w in t.casefold() for t in texts)]
    return result


def test_what_is_sought_is_there_before(taken: Camp) -> None:
    """The scan sees each kind of file, so that its silence afterwards means something."""
    places = "\n".join(left_of(taken.root, "rushford"))
    for piece in (".xlsx", "scale.csv", "gates_2032-06-30.csv", "mappings/", ".duckdb"):
        assert piece in places
    counts = taken.rows("select athlete_id, count(*) from reading group by all order by all")
    assert len(counts) == 4
    pitches = taken.rows("select count(*) from reading where measure = 'pitch_speed'")
    assert pitches == [(4,)]
    assert dict(counts)[made_id(GONE)] == 2 + 2 + 4 + 2 + 1 + 2 + 2


@pytest.fixture(scope="module")
def erased(taken: Camp) -> tuple[Camp, list[tuple[object, ...]]]:
    test_what_is_sought_is_there_before(taken)
    before = others(taken)
    erase(taken.root, made_id(GONE), "Odalys", Decided(rest="take"))
    return taken, before


def test_no_file_of_the_folder_keeps_the_name_or_the_made_id(erased) -> None:
    camp, _ = erased
    assert left_of(camp.root, "rushford", made_id(GONE).casefold()) == []


def test_the_rows_of_the_others_stay_and_the_next_build_goes_through(erased) -> None:
    camp, before = erased
    assert others(camp) == before
    build(camp.root)
    assert others(camp) == before
    assert camp.rows("select count(*) from held_row where state = 'open'") == [(0,)]
    assert camp.rows("select count(*) from athlete") == [(3,)]


def landed(camp: Camp, name: str) -> Path:
    return next(camp.root.glob(f"landing/*/{name}"))


def test_rows_that_did_not_count_go_with_the_others_and_nobody_elses_do(erased) -> None:
    camp, _ = erased
    text = landed(camp, "gates_2032-06-30.csv").read_text()
    assert "1998" not in text and "1753" not in text
    assert [line for line in text.splitlines() if line] == [
        line for line in gates().decode().splitlines() if "Ben Rushford" not in line
    ]


def test_footers_and_titles_stay_and_a_remark_loses_the_name(erased) -> None:
    camp, _ = erased
    text = landed(camp, "scale.csv").read_text(encoding="windows-1252")
    assert text.count("Team average;;150.1;") == 2
    assert text.rstrip().endswith("asked erased again;;;")


def test_in_each_sheet_only_their_own_line_goes(erased) -> None:
    camp, _ = erased
    book = openpyxl.load_workbook(landed(camp, "season.xlsx"))
    for title, column in (("Sizes", list(PEOPLE)), ("Balls", list(reversed(PEOPLE)))):
        cells = [row[0].value for row in book[title].iter_rows(min_row=2)]
        assert cells == [None if name == GONE else name for name in column]
    rooms = openpyxl.load_workbook(landed(camp, "jumps.xlsx"))["Rooms"]
    assert [c.value for c in rooms[3]] == [None] * 4
    assert [c.value for c in rooms[2]] == [100, "Silas", "Oakmere", "555-0100"]


def test_the_day_in_the_name_of_a_file_stays_where_the_name_goes(erased) -> None:
    camp, _ = erased
    speed = camp.rows("select athlete_id, measured_on from reading where measure = 'exit_speed'")
    assert speed == [(made_id("Silas Oakmere"), date(2032, 7, 2))]


def test_a_row_of_their_lane_without_a_number_goes_too(erased) -> None:
    camp, _ = erased
    text = landed(camp, "lanes.csv").read_text()
    assert "lane 2" not in text
    assert text.count("knee of lane") == 2


def test_a_sheet_of_their_own_goes_and_one_that_carries_their_name_loses_it(erased) -> None:
    camp, _ = erased
    book = openpyxl.load_workbook(landed(camp, "pitches.xlsx"))
    assert "With erased" in book.sheetnames
    pitches = camp.rows("select athlete_id from reading where measure = 'pitch_speed' order by all")
    assert pitches == sorted([(made_id("Silas Oakmere"),), (made_id("Theodora Quill"),)])


@pytest.mark.parametrize(
    "name", ["players.xlsx", "scale.csv", "gates_2032-06-30.csv", "season.xlsx", "lanes.csv"]
)
def test_a_file_as_it_first_came_is_known_and_not_taken_again(erased, name: str) -> None:
    camp, _ = erased
    nobody = {f"name {text}": NOBODY for text in (GONE, "RUSHFORD, Benjamin", "Ben Rushford", "Lane 2")}
    looks = look_at(camp.root, [(name, FILES[name])], {**answers(), **nobody})
    outcomes, refused = accept(camp.root, looks, "tester", build_after=False)
    assert refused == []
    assert {one.state for one in outcomes} == {"already there"}
    assert left_of(camp.root, "rushford") == []
