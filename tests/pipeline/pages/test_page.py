"""What stands on the page, and what never does."""

from __future__ import annotations

import json
import re
from dataclasses import asdict, replace
from datetime import date
from io import BytesIO
from pathlib import Path

import jsonschema
import pytest
from pypdf import PdfReader

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import Consents
from latewood.pipeline.pages.record import ProgramRecord, ProjectionRow, Value, read_record
from latewood.pipeline.pages.recruit import make, pdf
from latewood.pipeline.pages.recruit.data import as_data
from latewood.pipeline.pages.recruit.make import Choice
from latewood.pipeline.pages.recruit.model import Summary
from latewood.pipeline.pages.recruit.page import HEAD_CAPTIONS, HEADS, Page, grouped, make_page, page_texts
from latewood.pipeline.pages.recruit.pdf import pdf_text, render_pdf
from latewood.pipeline.pages.recruit.standing import share_below
from latewood.pipeline.pages.recruit.web import render_web, web_text
from tests.conftest import Camp
from tests.pipeline.pages.conftest import LONG_NAME, MEASURES
from tests.pipeline.pages.sheets import made as sheet_made

SCHEMA = Path(__file__).parents[3] / "docs" / "summary.schema.json"


@pytest.fixture(scope="session")
def record(built_camp: Camp) -> ProgramRecord:
    return read_record(built_camp.root)


def _words(summary: Summary) -> str:
    return " | ".join(page_texts(make_page(summary)))


def _with_values(record: ProgramRecord, values: list[Value]) -> ProgramRecord:
    return replace(record, values={**record.values, "T1": values})


def test_pdf_and_web_page_hold_the_words_of_the_page_and_no_others(record: ProgramRecord) -> None:
    page = make_page(sheet_made(record))
    wanted = "".join("".join(page_texts(page)).split())
    pdf = render_pdf(page, date(2032, 8, 20))
    assert "".join(pdf_text(pdf).split()) == wanted
    assert "".join("".join(web_text(render_web(page))).split()) == wanted


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_fourteen_measures_and_forty_letters_fit_on_two_tagged_sheets(
    record: ProgramRecord, paper: str
) -> None:
    summary = sheet_made(record)
    assert len(summary.measures) == 14
    assert summary.person.name == LONG_NAME
    assert len(LONG_NAME) == 40
    pdf = render_pdf(make_page(summary), date(2032, 8, 20), paper)
    assert pdf.count(b"/StructTreeRoot") >= 1
    assert b"pdfuaid:part" in pdf
    assert b"/FontFile2" in pdf or b"/FontFile3" in pdf
    reader = PdfReader(BytesIO(pdf))
    assert len(reader.pages) == 2
    width = {"letter": 612, "a4": 595}[paper]
    for page in reader.pages:
        assert not page.images
        assert round(float(page.mediabox.width)) == width
        words = " ".join(page.extract_text().split())
        assert "".join(LONG_NAME.split()) in "".join(
            words.split()
        )  # a sheet that got lost still says whose it is
        assert grouped(summary.provenance.page_hash) in words


def test_few_measures_stay_on_one_sheet(record: ProgramRecord) -> None:
    some = sheet_made(
        record, Choice(measures=("exit_speed", "throw_speed", "sprint_60yd", "broad_jump", "bench_press"))
    )
    assert len(PdfReader(BytesIO(render_pdf(make_page(some), date(2032, 8, 20)))).pages) == 1


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_a_page_of_two_sheets_is_set_once_and_in_the_largest_text_or_the_next(
    record: ProgramRecord, paper: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    compiled, tried = pdf._compiled, list[float]()

    def noted(files: dict[str, bytes], made_on: date) -> bytes:
        tried.append(json.loads(files["page.json"])["size"])
        return compiled(files, made_on)

    def sizes(page: Page) -> list[float]:
        tried.clear()
        render_pdf(page, date(2032, 8, 20), paper)
        return list(tried)

    monkeypatch.setattr(pdf, "_compiled", noted)
    page, every = make_page(sheet_made(record)), [size for size, _ in pdf.SIZES]
    for rows in range(pdf.FEW_ROWS + 1, len(page.rows) + 1):
        shorter = replace(page, rows=page.rows[:rows])
        expected = sizes(shorter)
        with monkeypatch.context() as blind:
            blind.setattr(
                pdf, "_second_sheet", lambda _: 0.0
            )  # as if the sheet were empty: all sizes are tried
            largest = sizes(shorter)[-1]
        assert len(expected) == 1, rows
        assert every.index(expected[-1]) - every.index(largest) in {0, 1}, rows


def test_so_many_rows_are_never_too_few_for_a_second_sheet(record: ProgramRecord) -> None:
    page = make_page(sheet_made(record))
    short = replace(
        page, heads=page.heads[:3], rows=page.rows[: pdf.FEW_ROWS + 1], notes=(), sizes=(), stated=()
    )
    size, inset = pdf.SIZES[-1]
    words = {**asdict(short), "table_heads": HEADS, "captions": HEAD_CAPTIONS, "title": "A"}
    content = json.dumps({**words, "size": size, "inset": inset, "paper": "a4"}).encode()
    made = pdf._compiled({"main.typ": pdf._layout(), "page.json": content}, date(2032, 8, 20))
    assert len(PdfReader(BytesIO(made)).pages) == 2


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_no_word_of_the_pdf_is_below_eight_points_and_the_head_values_are_twice_as_large(
    record: ProgramRecord, paper: str
) -> None:
    page = make_page(sheet_made(record))
    sizes: dict[str, float] = {}

    def seen(text: str, cm: list[float], tm: list[float], font: object, size: float) -> None:
        if text.strip():
            scale = abs(tm[3] * cm[3])
            sizes[text.strip()] = min(sizes.get(text.strip(), 99.0), size * scale)

    for sheet in PdfReader(BytesIO(render_pdf(page, date(2032, 8, 20), paper))).pages:
        sheet.extract_text(visitor_text=seen)
    assert min(sizes.values()) >= 8.0
    for head in page.heads:
        assert sizes[head.cells[0].strong] >= 15.5, head.name


def test_every_best_value_stands_beside_its_typical_value_and_counts(record: ProgramRecord) -> None:
    shown = next(m for m in sheet_made(record).measures if m.key == "exit_speed")
    assert (shown.sessions, shown.trials, shown.latest.trials) == (4, 12, 3)
    values = record.values["T1"]
    mine = [v for v in values if v.measure == "exit_speed"]
    assert shown.best.best == pytest.approx(max(v.best for v in mine) / 0.44704, abs=0.05)
    assert shown.latest.held_on == max(v.held_on for v in mine)
    page = make_page(sheet_made(record))
    assert len(page.heads) == 4
    for head in page.heads:
        assert head.method.startswith("Method: ")
        assert re.search(r"best of \d+ trials?, \d+ sessions?", head.cells[0].quiet[0])
        assert re.search(r"± [\d.]+ typical error", head.cells[1].quiet[0])
        assert "trial" in head.cells[1].quiet[1]
    assert len(page.rows) == 10
    for row in page.rows:
        assert re.search(r"± [\d.]+$", row.cells[1].strong)
        assert "trial" in row.cells[1].quiet[0]
        assert re.search(r"best of \d+ trials?, \d+ sessions?", row.cells[2].quiet[0])
        assert row.cells[0].quiet[0]


def test_the_latest_session_is_shown_even_if_it_is_the_worst(record: ProgramRecord) -> None:
    values = [
        replace(v, value=v.value * 0.5, best=v.best * 0.5) if v.held_on == date(2032, 7, 13) else v
        for v in record.values["T1"]
    ]
    shown = next(m for m in sheet_made(_with_values(record, values)).measures if m.key == "exit_speed")
    assert shown.latest.held_on == date(2032, 7, 13)
    assert shown.latest.typical < 50
    assert shown.best.best > 75


def test_values_of_another_way_of_measuring_are_neither_joined_nor_shown(record: ProgramRecord) -> None:
    day = date(2032, 6, 4)
    other = [
        replace(v, own_line="device=hand", value=99.0, best=99.0)
        if v.measure == "exit_speed" and v.held_on == day
        else v
        for v in record.values["T1"]
    ]
    shown = next(m for m in sheet_made(_with_values(record, other)).measures if m.key == "exit_speed")
    assert shown.sessions == 3
    assert shown.best.best < 90
    assert "also measured in another way" in shown.earlier
    assert all(p.typical < 90 for p in shown.points)
    assert shown.growth is None
    assert shown.growth_reason == "the way of measuring changed during the stay"


def test_one_session_has_no_change_over_time(record: ProgramRecord) -> None:
    alone = [v for v in record.values["T1"] if v.measure != "bat_speed" or v.held_on == date(2032, 6, 2)]
    shown = next(m for m in sheet_made(_with_values(record, alone)).measures if m.key == "bat_speed")
    assert shown.growth is None
    assert shown.growth_reason == "fewer than 2 comparable sessions in this stay"


def test_standing_needs_enough_others_and_has_its_interval_and_its_group(record: ProgramRecord) -> None:
    summary = sheet_made(record)
    exit_speed = next(m for m in summary.measures if m.key == "exit_speed")
    assert exit_speed.standing is not None
    assert exit_speed.standing.n == 24
    assert exit_speed.standing.low < exit_speed.standing.percentile < exit_speed.standing.high
    assert (
        "24 other baseball athletes of this program aged 15–17, tee, metal bat"
        in exit_speed.standing.reference
    )
    others = [m for m in summary.measures if m.key != "exit_speed"]
    assert all(m.standing is None and "20 needed" in m.standing_reason for m in others)


@pytest.mark.parametrize(("below", "n", "low", "high"), [(27, 38, 58, 82), (9, 12, 52, 90), (0, 20, 0, 9)])
def test_the_interval_of_a_share(below: int, n: int, low: int, high: int) -> None:
    share, found_low, found_high = share_below(below, n)
    assert share == below / n
    assert [round(100 * found_low), round(100 * found_high)] == pytest.approx([low, high], abs=1)


def test_how_many_of_how_many_is_printed(record: ProgramRecord) -> None:
    some = sheet_made(record, Choice(measures=("exit_speed", "throw_speed")))
    assert "2 of 14 available measures shown, chosen by the program and the family." in _words(some)
    narrow = sheet_made(record, measures=("exit_speed",))
    assert "1 of 14 available measures shown" in _words(narrow)


def test_never_on_the_page(record: ProgramRecord) -> None:
    record = replace(record, code_version="0", build_id="b", catalogue_digest="c" * 12)
    summary = sheet_made(record)
    text = _words(summary) + json.dumps(as_data(summary))
    for gone in ("2016-03-01", "1 Mar 2016", "T1", "R1", "Reed", "skinfold", "body_fat", "Siltwood, Bram"):
        assert gone not in text, gone
    assert not any(m.key.startswith(("obs_", "body_")) for m in summary.measures)


@pytest.mark.parametrize(
    "measure", ["body_fat_skinfold", "obs_lunge", "pelvis_peak_speed", "body_mass", "nothing"]
)
def test_what_may_never_be_shown_cannot_be_chosen_either(record: ProgramRecord, measure: str) -> None:
    with pytest.raises(SummaryError, match="never stands on a summary"):
        sheet_made(record, Choice(measures=(measure,)))


def test_only_what_was_agreed_to_is_shown(record: ProgramRecord) -> None:
    summary = sheet_made(record, fields=("height",), measures=("exit_speed",), name_shown="Max F.")
    assert summary.person.name == "Max F."
    assert (summary.person.graduation_year, summary.person.positions, summary.person.bats) == (None, "", "")
    assert [s.label for s in summary.person.sizes] == ["Height"]
    assert [m.key for m in summary.measures] == ["exit_speed"]
    assert LONG_NAME not in _words(summary) + json.dumps(as_data(summary))
    with pytest.raises(SummaryError, match="does not cover 'throw_speed'"):
        sheet_made(record, Choice(measures=("exit_speed", "throw_speed")), measures=("exit_speed",))
    with pytest.raises(SummaryError, match="no measure is left"):
        sheet_made(record, measures=())


def test_a_projection_needs_consent_and_choice_and_says_what_it_is(record: ProgramRecord) -> None:
    line = next(v.line for v in record.values["T1"] if v.measure == "exit_speed")
    row = ProjectionRow(
        value=38.0, low=36.0, high=40.0, level=0.95, target_on=date(2032, 9, 1), made_on=date(2032, 7, 13)
    )
    record = replace(record, projections={("T1", "exit_speed", line): row})
    for agreed, chosen in ((False, True), (True, False), (False, False)):
        assert "rojection" not in _words(sheet_made(record, Choice(projection=chosen), projection=agreed))
    words = _words(sheet_made(record, Choice(projection=True), projection=True))
    assert "Projection, not a measurement: 85.0 mph (95 % interval 80.5 to 89.5)" in words
    assert "A projection is a range, not a promise." in words


def test_an_old_measure_is_marked_and_set_last(record: ProgramRecord) -> None:
    values = [
        replace(v, held_on=v.held_on.replace(year=2031)) if v.measure == "exit_speed" else v
        for v in record.values["T1"]
    ]
    summary = sheet_made(_with_values(record, values))
    assert summary.measures[-1].key == "exit_speed"
    assert summary.measures[-1].age_note == "13 months old"
    assert "13 Jul 2031 (13 months old)" in _words(summary)
    assert "Measured long ago and set last: Exit speed." in _words(summary)


def test_more_than_the_sheets_hold_is_refused(record: ProgramRecord, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(make, "MOST", 3)
    with pytest.raises(SummaryError, match="do not fit on the sheet; choose at most 3"):
        sheet_made(record, Choice(measures=tuple(k for k in MEASURES if k[:4] not in {"stan", "body"})))
    assert len(sheet_made(record).measures) == 3


def test_the_page_says_where_it_comes_from(record: ProgramRecord) -> None:
    words = _words(sheet_made(record))
    for text in (record.build_id, record.catalogue_digest[:12], "valid until 1 Dec 2032", "Made on 20 Aug 2032",
                 "Contact only through the program: desk 7", "key abab abab abab abab", "Invented data"):  # fmt: skip
        assert text in words, text


def test_the_data_follow_the_published_schema(record: ProgramRecord) -> None:
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    data = {**as_data(sheet_made(record)), "public_key": "a", "signature": "b"}
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(data, schema)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**data, "birth_date": "2016-03-01"}, schema)


def test_metric_units_change_every_number_alike(record: ProgramRecord) -> None:
    us, metric = (
        next(m for m in sheet_made(record, Choice(units=u)).measures if m.key == "exit_speed")
        for u in ("us", "metric")
    )
    assert (us.unit, metric.unit) == ("mph", "km/h")
    assert metric.latest.typical == pytest.approx(us.latest.typical * 1.609344, abs=0.1)


def test_no_consent_no_page(heath: Camp) -> None:
    assert consent_book.standing(heath.root) == Consents(by_athlete={}, unreadable=frozenset())
