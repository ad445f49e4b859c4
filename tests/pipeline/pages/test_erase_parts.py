"""What is looked for, proposed, cleared and found when an athlete is erased, part by part."""

from __future__ import annotations

import gzip
import io
import zipfile
from collections.abc import Callable
from pathlib import Path

import duckdb
import openpyxl
import pandas as pd
import pytest
from openpyxl.chart import BarChart
from openpyxl.comments import Comment
from openpyxl.formatting.rule import FormulaRule
from openpyxl.packaging.custom import StringProperty
from openpyxl.workbook import Workbook
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.table import Table as ExcelTable

from latewood.pipeline.care.erase_book import BookChange, texts_of_book, without_athlete
from latewood.pipeline.care.erase_likely import Whose
from latewood.pipeline.care.erase_scan import in_content, remainders
from latewood.pipeline.care.erase_sought import sought
from latewood.pipeline.errors import BuildError
from latewood.pipeline.warehouse.connection import open_new
from latewood.pipeline.warehouse.versions import check_version

NAMES = ("Calla Pebbleskerry", "calla pebbleskerry")
SOUGHT = sought("SL-001", NAMES)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Pebbleskerry, Calla", True),
        ("with CALLA  PEBBLESKERRY today", True),
        ("calla_pebbleskerry_2032.csv", True),
        ("Cálla Pebbleskérry", True),
        ('{"athlete": "SL-001"}', True),
        ("SL-0012", False),
        ("Calla Pebbleskerryson", False),
        ("Calla Reed", False),
    ],
)
def test_names_are_found_in_any_writing_and_nobody_elses(text: str, found: bool) -> None:
    assert SOUGHT.found(text) is found
    assert not SOUGHT.found(SOUGHT.replaced(text))


def test_a_short_or_bare_id_is_no_word_of_other_columns() -> None:
    assert sought("7", ["7"]).replaced("3,7,T1\n") == "3,7,T1\n"
    assert sought("7", ["7"]).found('{"athlete_id": "7"}')
    assert not sought("7", ["7"]).found('{"athlete_id": "77", "trial": 7}')


@pytest.mark.parametrize(
    ("text", "likely"),
    [
        ("Pebbleskery, Calla", True),
        ("C. Pebbleskerry", True),
        ("Pebbleskerry", True),
        ("Colla Pebbleskerry", True),
        ("Reed Number1", False),
        ("Calla Reed", False),
        ("R. Pebbleskerry", False),  # a brother, whom the roster holds
    ],
)
def test_what_may_be_theirs_is_proposed_and_what_fits_another_is_not(text: str, likely: bool) -> None:
    everybody = {"Calla Pebbleskerry": ["SL-001"], "Reed Number1": ["R1"], "Rufus Pebbleskerry": ["R2"]}
    whose = Whose(names=("Calla Pebbleskerry",), everybody=everybody, athlete_id="SL-001")
    if text == "Pebbleskerry":
        everybody.pop("Rufus Pebbleskerry")
    assert (whose.score(text) > 0) is likely


def _book() -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (["athlete", "value", "note"], [7, 71, "x"], [8, 7, "with Calla Pebbleskerry"], [9, 70, "y"]):
        sheet.append(row)
    sheet["A2"].comment = Comment("tired", "coach")
    sheet["B4"].comment = Comment("as Pebbleskerry, Calla", "coach")
    other = book.create_sheet("Calla Pebbleskerry")
    for row in (["athlete", "kg"], [7, 60.5], [8, 7]):
        other.append(row)
    book.properties.title = "Calla Pebbleskerry"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_a_workbook_with_numbers_for_ids_loses_rows_comments_sheet_name_and_title() -> None:
    what = sought("7", ["7", *NAMES])
    change = BookChange(
        rows={"Sheet": {2}}, athlete_column="athlete", equal=frozenset({"7", *NAMES}), sought=what, texts=()
    )  # fmt: skip
    made = without_athlete("a.xlsx", _book(), change)
    book = openpyxl.load_workbook(io.BytesIO(made))
    assert [[c.value for c in row] for row in book["Sheet"].iter_rows()] == [
        ["athlete", "value", "note"], [None] * 3, [8, 7, "with erased"], [9, 70, "y"],
    ]  # fmt: skip
    assert [[c.value for c in row] for row in book["erased"].iter_rows()] == [
        ["athlete", "kg"], [None] * 2, [8, 7],
    ]  # fmt: skip
    assert not any("Pebbleskerry" in text or "tired" in text for text in texts_of_book(made))
    assert list(in_content("a.xlsx", made, what)) == []
    assert list(in_content("a.xlsx", _book(), what)) != []


def _sheet_name(book: Workbook) -> None:
    book.create_sheet("Calla Pebbleskerry")


def _comment(book: Workbook) -> None:
    book.active["B3"].comment = Comment("asked Calla Pebbleskerry", "coach")


def _comment_author(book: Workbook) -> None:
    book.active["B3"].comment = Comment("asked", "Calla Pebbleskerry")


def _property(book: Workbook) -> None:
    book.properties.lastModifiedBy = "Calla Pebbleskerry"


def _own_property(book: Workbook) -> None:
    book.custom_doc_props.append(StringProperty(name="measured", value="Calla Pebbleskerry"))


def _defined_name(book: Workbook) -> None:
    book.defined_names["Calla_Pebbleskerry"] = DefinedName("Calla_Pebbleskerry", attr_text="Sheet!$A$1")


def _defined_text(book: Workbook) -> None:
    book.active.defined_names["who"] = DefinedName("who", attr_text='"Calla Pebbleskerry"')


def _footer(book: Workbook) -> None:
    book.active.oddFooter.left.text = "Calla Pebbleskerry"


def _first_page(book: Workbook) -> None:
    book.active.firstHeader.right.text = "Calla Pebbleskerry"


def _link(book: Workbook) -> None:
    book.active["A3"].hyperlink = "https://camp.example.org/calla_pebbleskerry"


def _choices(book: Workbook) -> None:
    choice = DataValidation(type="list", formula1='"Calla Pebbleskerry,Reed Number1"', prompt="who")
    choice.add("A3")
    book.active.add_data_validation(choice)


def _colour(book: Workbook) -> None:
    book.active.conditional_formatting.add("A1:A9", FormulaRule(formula=['A1="Calla Pebbleskerry"']))


def _table(book: Workbook) -> None:
    book.active.add_table(ExcelTable(displayName="Calla_Pebbleskerry", ref="A1:B3"))


def _cell_of_a_chart(book: Workbook) -> None:
    chart = BarChart()
    chart.title = "Calla Pebbleskerry"
    book.active.add_chart(chart)


PLACES = (
    _sheet_name, _comment, _comment_author, _property, _own_property, _defined_name, _defined_text, _footer,
    _first_page, _link, _choices, _colour, _table, _cell_of_a_chart,
)  # fmt: skip


NOT_CLEARED = (
    _choices,
    _colour,
    _table,
    _cell_of_a_chart,
)  # the erasure is refused before anything is changed


def _saved(write: Callable[[Workbook], None]) -> bytes:
    book, out = openpyxl.Workbook(), io.BytesIO()
    for row in (["athlete", "value"], ["B1", 71], ["B2", 70]):
        book.active.append(row)
    write(book)
    book.save(out)
    return out.getvalue()


@pytest.mark.parametrize("write", PLACES)
def test_a_name_left_only_in_one_place_of_a_workbook_goes_or_stops_the_erasure(write, tmp_path: Path) -> None:
    content = _saved(write)
    assert list(in_content("a.xlsx", content, SOUGHT)), "the scan must see it, so that the erasure is refused"
    (tmp_path / "a.xlsx").write_bytes(content)
    assert remainders(tmp_path, SOUGHT)
    change = BookChange(
        rows={"Sheet": ()}, athlete_column="athlete", equal=frozenset(NAMES), sought=SOUGHT, texts=()
    )
    made = without_athlete("a.xlsx", content, change)
    assert bool(list(in_content("a.xlsx", made, SOUGHT))) == (write in NOT_CLEARED)


def _with_member(name: str, told: bytes) -> bytes:
    out = io.BytesIO(_saved(lambda _: None))
    with zipfile.ZipFile(out, "a") as packed:
        packed.writestr(name, told)
    return out.getvalue()


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("xl/media/Calla Pebbleskerry.png", b""),
        ("xl/unused.xml", b"<sst><si><r><t>Calla </t></r><r><t>Pebbleskerry</t></r></si></sst>"),
        ("customXml/item1.xml", b"<a who='Calla Pebbleskerry'/>"),
        ("xl/embeddings/one.bin", "Calla Pebbleskerry".encode("utf-16-le")),
    ],
)
def test_a_part_that_no_sheet_uses_is_seen_and_goes(name: str, told: bytes) -> None:
    content = _with_member(name, told)
    assert list(in_content("a.xlsx", content, SOUGHT))
    change = BookChange(
        rows={"Sheet": ()}, athlete_column="athlete", equal=frozenset(NAMES), sought=SOUGHT, texts=()
    )
    assert list(in_content("a.xlsx", without_athlete("a.xlsx", content, change), SOUGHT)) == []


def test_the_name_of_a_member_alone_is_seen_in_any_archive(tmp_path: Path) -> None:
    for name in ("Calla Pebbleskerry.csv", "SL-001/reads.csv", "pebbleskerry_calla/"):
        with zipfile.ZipFile(tmp_path / "z.zip", "w") as packed:
            packed.writestr(name, "")
        (left,) = remainders(tmp_path, SOUGHT)
        assert left.startswith("z.zip, the name of a member"), name


def test_every_kind_of_file_is_read_and_the_place_is_named(tmp_path: Path) -> None:
    (tmp_path / "log.txt").write_text("one\nCalla Pebbleskerry\n")
    (tmp_path / "u.csv").write_bytes("Pebbleskerry;Calla".encode("utf-16"))
    (tmp_path / "n.json").write_text('{"a": "C\\u00e1lla Pebbleskerry"}')
    (tmp_path / "g.json.gz").write_bytes(gzip.compress(b"Calla Pebbleskerry"))
    (tmp_path / "b.xlsx").write_bytes(_book())
    with zipfile.ZipFile(tmp_path / "z.zip", "w") as packed:
        packed.writestr("in.gz", gzip.compress(b"SL-001"))
    pd.DataFrame({"athlete_id": ["SL-001"] * 999}).to_parquet(tmp_path / "p.parquet")
    with duckdb.connect(str(tmp_path / "w.duckdb")) as connection:
        connection.execute("create table t as select 'SL-001@C1' as stay_id from range(9999)")
    (tmp_path / "SL-001.txt").write_text("")
    (tmp_path / "clean.txt").write_text("Reed Number1")
    left = remainders(tmp_path, SOUGHT)
    words = {one.partition(",")[0].removeprefix("the name of ") for one in left}
    assert words == {
        "log.txt", "u.csv", "n.json", "g.json.gz", "b.xlsx", "z.zip", "p.parquet", "w.duckdb", "erased.txt",
    }  # fmt: skip
    assert "log.txt, line 2" in left
    assert "w.duckdb, table t, column stay_id" in left
    assert not any("Calla" in one or "SL-001" in one for one in left)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("alter table build_log add column later varchar", "by a newer Latewood"),
        ("drop table start_draw", "by an older Latewood"),
        ("alter table build_log rename column build_id to other", "by another Latewood"),
    ],
)
def test_the_message_says_which_of_program_and_folder_is_older(
    tmp_path: Path, change: str, said: str
) -> None:
    with open_new(tmp_path / "w.duckdb") as connection:
        connection.execute(change)
        connection.execute("update warehouse_version set schema_digest = 'other'")
        with pytest.raises(BuildError, match=said):
            check_version(connection, "w.duckdb")
