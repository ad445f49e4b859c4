"""The review of a camp: what it leads with, what it refuses, and the same numbers in every form."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from pypdf import PdfReader

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.ingest.program import prepare_folder
from latewood.pipeline.pages.camp.issue import issue_review
from latewood.pipeline.pages.camp.make import make_review
from latewood.pipeline.pages.camp.model import CampReview
from latewood.pipeline.pages.camp.page import make_page, page_texts
from latewood.pipeline.pages.camp.pdf import render_pdf
from latewood.pipeline.pages.camp.table import (
    GAIN_HEADS,
    PART_HEADS,
    gain_rows,
    part_rows,
    render_csv,
    render_xlsx,
)
from tests.pipeline.pages.camp_record import (
    BRIDGE,
    CHANGES,
    GAIN,
    GATE,
    HAND,
    MPH,
    SMALL,
    SPRINT,
    camp_record,
    way,
)

NO_FONT = "Heath \U00012000"  # a cuneiform sign
CAUSE = re.compile(
    r"\b(caused|because of the camp|thanks to|due to|led to|made them|effect of the camp)\b", re.I
)
RANK = re.compile(r"\b(best camp|better than|ranked?|first place|ahead of)\b", re.I)


def parts_of(review: CampReview, at: int = 0) -> dict[str, tuple[int, float | None]]:
    return {group.name: (len(group.singles), group.mean) for group in review.groups[at].groups}


def plain(text: str) -> str:
    return re.sub(r"\s", "", text.replace("\u2212", "-"))


def test_all_enrolled_lead_the_exit_tested_follow_and_leavers_are_crosses() -> None:
    texts = list(page_texts(make_page(make_review(camp_record()))))
    assert texts.index("+1.2 mph") < texts.index("+1.6 mph (n = 22)")
    assert any(text.startswith("× 1 left early, after 3.0 weeks; they count") for text in texts)
    assert any("22 of 24, 2 missing" in text for text in texts)
    assert "24 of the 24 athletes enrolled" in texts[7]
    assert "gained 1.2 mph on average (95 % interval +0.5 to +2.0)" in texts[7]


@pytest.mark.parametrize("differ", [False, True, None])
def test_two_sentences_without_cause_or_order(differ: bool | None) -> None:
    review = make_review(camp_record(gains=(replace(GAIN, camps_differ=differ),)))
    assert len(review.sentences) == 2
    for sentence in review.sentences:
        assert len(re.findall(r"\.(?:\s|$)", sentence)) == 1
        assert not CAUSE.search(sentence)
        assert not RANK.search(sentence)
    text = {False: "cannot be separated", True: "at least two camps differ", None: "No other camp"}[differ]
    assert text in review.sentences[1]


def test_an_interval_over_zero_is_not_called_a_gain() -> None:
    review = make_review(camp_record(gains=(replace(GAIN, low=-0.2 * MPH),)))
    assert "which may be no change" in review.sentences[0]
    assert "gained" not in review.sentences[0]


def test_times_go_down_and_are_called_faster() -> None:
    review = make_review(camp_record(gains=(SPRINT,)))
    assert "got faster by 0.08 s on average" in review.sentences[0]


def test_without_a_group_number_the_sentences_say_so() -> None:
    review = make_review(camp_record(gains=(SMALL,)))
    assert review.sentences[0].startswith("No group number can be given for Heath 32: at most 4 athletes")
    assert (review.groups, review.ratio) == ((), None)
    assert "Pop time 4" in make_page(review).refused


def test_the_leading_line_is_the_one_with_most_athletes_not_the_largest_gain() -> None:
    few = replace(GAIN, line="x", n_measured=9, gain=9.0, low=8.0, high=10.0)
    assert make_review(camp_record(gains=(few, GAIN))).groups[0].line == GAIN.line
    assert make_review(camp_record(gains=(few, GAIN)), lead="exit_speed|x").groups[0].line == "x"


def test_a_part_of_under_eight_has_single_athletes_and_no_mean() -> None:
    result = parts_of(make_review(camp_record()))
    assert result["Everybody"] == (24, 1.2)  # mean of 0.01, 0.11 ... 2.31 is 1.16
    assert result["Pitchers"] == (8, 0.4)  # 0.01 to 0.71: .36
    assert result["Catchers"] == (3, None)  # by the first of two positions
    assert result["Outfielders"] == (5, None)
    assert result["Here under 4 weeks"] == (1, None)
    assert (result["Female"][0], result["Male"][0]) == (8, 16)
    texts = list(page_texts(make_page(make_review(camp_record()))))
    assert "n\u00a03: singles only" in texts


def test_seven_are_too_few_and_eight_are_enough() -> None:
    for n, mean in ((7, None), (8, 0.5)):
        review = make_review(camp_record(changes=CHANGES[1 : n + 1]))
        assert parts_of(review)["Everybody"] == (n, pytest.approx(mean) if mean else None)


def test_another_timing_is_flagged_and_a_measured_offset_is_named() -> None:
    hand = camp_record(ways=(way("A", HAND), way("B", GATE)))
    assert make_review(hand).breaks == (
        "60-yard sprint: here electronic timing; in Heath 31 hand timing. Not comparable, never joined.",
    )
    joined = make_review(replace(hand, bridges=(BRIDGE,))).breaks
    assert "joined with Heath 31 by an offset of +0.24 ± 0.08 s from 18 athletes" in joined[0]


def test_the_same_ways_or_one_athletes_own_are_no_change_of_method() -> None:
    assert make_review(camp_record()).breaks == ()
    own = camp_record(ways=(way("A", GATE), way("B", GATE), way("A", HAND), way("B", "timing=beam", n=2)))
    assert make_review(own).breaks == ()
    used = camp_record(ways=(way("A", GATE), way("B", HAND), way("B", GATE, n=1)))
    assert make_review(used).breaks == ()  # still used here, if by one


def test_gain_by_mass_gain_is_struck_out_with_its_reason_and_in_no_table() -> None:
    review = make_review(camp_record(), "metric")
    assert review.ratio is not None
    assert review.ratio.struck == pytest.approx(1.2341 * MPH / 2.0 * 3.6, abs=0.006)  # km/h per kg
    page = make_page(review)
    assert "not the effect of mass" in page.struck_reason
    assert "102 athletes" in page.struck_reason
    cells = [str(cell) for row in (*gain_rows(review), *part_rows(review)) for cell in row]
    assert not any(f"{review.ratio.struck:.2f}" in cell for cell in cells)
    assert (
        make_review(camp_record(stays=tuple(replace(s, gained=0.1) for s in camp_record().stays))).ratio
        is None
    )


@pytest.mark.parametrize("units", ["us", "metric"])
def test_sheet_screen_csv_and_workbook_carry_the_same_numbers(units: str) -> None:
    review = make_review(camp_record(), units)
    printed = plain("".join(one.extract_text() for one in PdfReader(io.BytesIO(sheet(review))).pages))
    on_screen = plain("".join(page_texts(make_page(review))))
    book = openpyxl.load_workbook(io.BytesIO(render_xlsx(review)))
    for heads, rows, name in (
        (GAIN_HEADS, gain_rows(review), "Gains"),
        (PART_HEADS, part_rows(review), "Parts"),
    ):
        text = render_csv(heads, rows).decode("utf-8-sig")
        from_csv = list(csv.DictReader(io.StringIO(text, newline="")))
        from_book = [
            dict(zip(heads, row, strict=True)) for row in book[name].iter_rows(min_row=2, values_only=True)
        ]
        assert len(from_csv) == len(from_book) == len(rows) > 1
        for one, two in zip(from_csv, from_book, strict=True):
            assert {key: number(value) for key, value in one.items()} == {
                k: number(v) for k, v in two.items()
            }
    for gain in (one for one in review.gains if one.gain is not None):
        for value in (gain.gain, gain.low, gain.high, gain.pulled, gain.plain):
            timed = gain.unit == "s"
            shown = f"{abs(value):.{gain.decimals}f}" if timed else f"{value:+.{gain.decimals}f}"
            assert shown in printed
            assert shown in on_screen
    for part in review.groups[0].groups:
        if part.mean is not None:
            words = plain(
                f"{part.mean:+.1f}{review.groups[0].unit}{part.low:+.1f}to{part.high:+.1f}·n{len(part.singles)}"
            )
            assert words in printed
            assert words in on_screen


def number(value: object) -> object:
    """A cell as a number where it is one, so that 10 and 10.0 are the same."""
    try:
        return float(str(value))
    except ValueError:
        return value or ""


def sheet(review: CampReview, paper: str = "letter") -> bytes:
    return render_pdf(make_page(review), review.made_on, paper)


def test_numbers_are_numbers_and_heads_name_their_units() -> None:
    book = openpyxl.load_workbook(io.BytesIO(render_xlsx(make_review(camp_record()))))
    cell = book["Gains"].cell(row=2, column=GAIN_HEADS.index("gain (unit of the row)") + 1)
    assert (cell.value, cell.data_type, cell.number_format) == (1.2, "n", "0.0")
    plain_heads = {"camp", "measure", "method", "unit of the row", "part", "kind of part", "note", "build"}
    text = {"camps can be separated", "why not, or up to when", "method of the estimate"}
    assert all(head in plain_heads | text or head.endswith(")") for head in (*GAIN_HEADS, *PART_HEADS))
    assert book["Gains"].cell(row=2, column=len(GAIN_HEADS)).value == "0123456789abcdef"


def test_no_name_birth_date_or_reason_for_leaving_is_in_any_form() -> None:
    review = make_review(camp_record())
    every = "".join(page_texts(make_page(review))) + str(gain_rows(review)) + str(part_rows(review))
    every += str(review)
    for word in ("T0@B", "T1@", "2016", "birth"):
        assert word not in every
    assert "internal" in make_page(review).kind


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("n", [3, 18, 40])
def test_it_is_one_sheet_and_says_what_did_not_fit(paper: str, n: int) -> None:
    many = tuple(replace(GAIN, line=f"{GAIN.line}; way={k}") for k in range(n))
    review = make_review(camp_record(gains=(GAIN, *many)))
    reader = PdfReader(io.BytesIO(sheet(review, paper)))
    assert len(reader.pages) == 1
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    text = " ".join(reader.pages[0].extract_text().split())
    assert ("did not fit on this sheet" in text) == (n == 40)


def test_an_unknown_paper_is_refused() -> None:
    with pytest.raises(SummaryError, match="paper 'a3' is not one of"):
        sheet(make_review(camp_record()), "a3")


def test_a_kind_in_which_all_are_alike_is_not_called_empty() -> None:
    """One measure was taken by boys only, another by both: its row of boys is everybody, not nobody."""
    boys = {f"T{n}@B" for n in range(24) if n % 3}
    changes = [one for one in CHANGES if one.stay_id in boys]
    both = [replace(one, measure="sprint_60yd", line=GATE, change=-0.05) for one in CHANGES]
    review = make_review(camp_record(gains=(GAIN, SPRINT), changes=(*changes, *both)))
    cells = {line.name: [cell.quiet for cell in line.cells] for line in make_page(review).groups}
    at = [sheet.key for sheet in review.groups].index("exit_speed")
    assert cells["Male"][at] == cells["Female"][at] == "not divided: see Everybody"
    assert "n\u00a016" in cells["Male"][1 - at]


def test_a_letter_that_no_font_has_holds_up_the_sheet_only(tmp_path: Path) -> None:
    prepare_folder(tmp_path)
    review = replace(make_review(camp_record()), label=NO_FONT)
    made = issue_review(tmp_path, review, "Ira", ("pdf", "csv"))
    assert [name.rsplit(".", 1)[1] for name in made.files] == ["csv", "csv"]
    assert list(made.missing) == ["pdf"] and "cannot be made" in made.missing["pdf"]
    assert audit.lines(tmp_path)[-1].details["forms"] == "csv"
    with pytest.raises(SummaryError, match="cannot be made"):
        issue_review(tmp_path, review, "Ira", ("pdf",))
    assert len(audit.lines(tmp_path)) == 1


def test_times_of_parts_are_said_as_faster_or_slower_as_the_gains_are() -> None:
    sprints = tuple(
        replace(one, measure="sprint_60yd", line=GATE, change=-0.08 + 0.002 * n)
        for n, one in enumerate(CHANGES)
    )
    review = make_review(camp_record(changes=sprints), lead="sprint_60yd")
    everybody = make_page(review).groups[0]
    assert everybody.cells[0].strong == "0.06 s faster"
    assert everybody.cells[0].quiet.startswith("0.06 to 0.05 faster")
