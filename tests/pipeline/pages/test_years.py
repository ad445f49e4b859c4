"""Camps over the years: one row one way of measuring, no order of merit, small numbers kept from outsiders."""

from __future__ import annotations

import io
import itertools
import re
from dataclasses import replace
from datetime import timedelta

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader
from typer.testing import CliRunner

from latewood.pipeline.cli.main import app
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.pages.camp.athletes import named_changes
from latewood.pipeline.pages.camp.groups import TRAINED
from latewood.pipeline.pages.camp.issue import review_of
from latewood.pipeline.pages.camp.make import make_review
from latewood.pipeline.pages.camp.outside import make_outside, outside_texts
from latewood.pipeline.pages.camp.table import render_xlsx
from latewood.pipeline.pages.recruit.pdf import pdf_text
from latewood.pipeline.pages.years.issue import issue_years, render_years
from latewood.pipeline.pages.years.make import make_years, reason_of
from latewood.pipeline.pages.years.model import Years
from latewood.pipeline.pages.years.page import HIDDEN, make_years_page, years_texts
from latewood.pipeline.pages.years.tables import GAIN_HEADS, gain_rows, render_workbook
from tests.conftest import Camp
from tests.pipeline.pages.camp_record import (
    BEFORE,
    BRIDGE,
    GAIN,
    GATE,
    HAND,
    SMALL,
    SPRINT,
    camp_record,
    stay,
    way,
)

MPH = 0.44704  # m/s, exact
WAYS = (way("A", HAND), way("B", GATE))


def _earlier(**changed: object):
    """Camp A, a year before: 20 athletes, 12 of whom are at camp B too; two left early."""
    stays = []
    for n in range(20):
        one = replace(stay(n), stay_id=f"T{n}@A", athlete_id=f"T{n}" if n < 12 else f"U{n}")
        one = replace(one, arrived_on=BEFORE.starts_on, planned_until=BEFORE.ends_on, left_on=BEFORE.ends_on)
        gone = n in {0, 5}
        reason = {0: "Family", 5: "torn ACL"}.get(n)
        left = BEFORE.starts_on + timedelta(days=20)
        stays.append(
            replace(one, left_early=gone, left_on=left if gone else one.left_on, leave_reason=reason)
        )
    gains = (
        replace(
            GAIN, camp_id="A", n_enrolled=20, n_measured=20, gain=0.8 * MPH, low=0.2 * MPH, high=1.4 * MPH
        ),
        replace(SPRINT, camp_id="A", line=HAND, n_measured=20),
        replace(SMALL, camp_id="A"),
    )
    made = camp_record(camp=BEFORE, stays=tuple(stays), gains=gains, changes=(), ways=WAYS)
    return replace(made, **changed)


def _years(*, outside: bool = False) -> Years:
    return make_years([camp_record(ways=WAYS), _earlier()], outside=outside)


def test_one_row_is_one_way_of_measuring_and_camps_stand_in_the_order_of_the_calendar() -> None:
    years = _years()
    assert [camp.camp_id for camp in years.camps] == ["A", "B"]
    (line,) = years.lines  # the sprint was timed by hand in one camp and by gates in the other
    assert (line.key, {camp: gain.gain for camp, gain in line.gains.items()}) == (
        "exit_speed", {"A": 0.8, "B": 1.2},
    )  # fmt: skip
    assert {one.split(" (")[1] for one in years.once} == {"hand timing)", "electronic timing)"}
    (changed,) = years.camps[1].changed
    assert (
        changed
        == "60-yard sprint: here electronic timing; in Heath 31 hand timing. Not comparable, never joined."
    )
    joined = make_years([camp_record(ways=WAYS, bridges=(BRIDGE,)), _earlier(bridges=(BRIDGE,))])
    assert (
        "joined with Heath 31 by an offset of +0.24 ± 0.08 s from 18 athletes" in joined.camps[1].changed[0]
    )


def test_camps_that_cannot_be_separated_get_no_order() -> None:
    words = " ".join(years_texts(make_years_page(_years())))
    assert "In none of the 1 rows can camps be separated: no order of camps is given." in words
    apart = camp_record(gains=(replace(GAIN, camps_differ=True),), ways=WAYS)
    words = make_years_page(make_years([apart, _earlier()])).sentences[0]
    assert words.startswith(
        "In 1 of 1 rows at least two camps differ after chance is allowed for (Exit speed)"
    )


def test_leavers_are_counted_by_reason_and_those_who_came_back_too() -> None:
    first, second = _years().camps
    assert (first.enrolled, first.finished, first.left_early, first.came_back) == (20, 18, 2, 0)
    assert first.reasons == {"family": 1, "personal": 1}  # of health no word is repeated
    assert (second.enrolled, second.came_back, second.reasons) == (24, 12, {"no reason stated": 1})
    assert reason_of("  OWN wish ") == "own wish"
    row = make_years_page(_years()).camp_rows[0]
    assert row[2:] == ("20", "18", "2: family 1 and personal 1", "0 of 20")


def test_outsiders_see_no_count_under_eight_and_nobody() -> None:
    words = " ".join(years_texts(make_years_page(_years(outside=True))))
    assert not re.search(r"family|personal|left early:|been here|\b[TU]\d+\b", words, re.IGNORECASE)
    assert "24" in words
    assert HIDDEN in " ".join(years_texts(make_years_page(make_years([_small(), _earlier()], outside=True))))
    few = make_years([camp_record(gains=(replace(GAIN, n_measured=7),)), _earlier()], outside=True)
    assert few.lines == ()


def _small():
    return camp_record(stays=tuple(stay(n) for n in range(5)))


def test_print_and_tables_hold_the_numbers_of_the_page() -> None:
    years = _years()
    made = render_years(years)
    assert len(PdfReader(io.BytesIO(made)).pages) == 1
    text = " ".join(pdf_text(made).split())
    for words in years_texts(make_years_page(years)):
        assert " ".join(words.split()) in text, words
    rows = [dict(zip(GAIN_HEADS, row, strict=True)) for row in gain_rows(years)]
    assert [(row["camp"], row["gain (unit of the row)"]) for row in rows] == [
        ("Heath 31", 0.8),
        ("Heath 32", 1.2),
    ]
    book = load_workbook(io.BytesIO(render_workbook(years)))
    assert book.sheetnames == ["Years", "Camps", "Gains"]
    sheet = book["Gains"]
    assert (sheet.auto_filter.ref, sheet.print_title_rows) == (sheet.dimensions, "$1:$1")
    assert (sheet.page_setup.orientation, sheet.sheet_properties.pageSetUpPr.fitToPage) == ("landscape", True)


def test_the_command_hands_out_what_is_noted_first(built_camp: Camp, tmp_path) -> None:
    asked = ["years", "--data", str(built_camp.root), "--out", str(tmp_path / "out"), "--form", "csv,xlsx"]
    done = CliRunner().invoke(app, [*asked, "--by", "Ira"])
    assert done.exit_code == 0, done.output
    assert len(list((tmp_path / "out").iterdir())) == 3
    line = audit.lines(built_camp.root)[-1]
    assert (line.event, line.details["what"]) == ("export", "camps over the years")
    with pytest.raises(SummaryError, match="nothing that outsiders may see"):
        issue_years(built_camp.root, make_years([_small()], outside=True), "Ira")


def _grouped():
    groups = ["Early group"] * 12 + ["Late group"] * 8 + ["Small group"] * 3 + [None]
    stays = tuple(replace(stay(n), training_group=group) for n, group in enumerate(groups))
    return camp_record(stays=stays)


def test_training_groups_stand_side_by_side_by_name_with_a_mean_from_eight_on() -> None:
    review = make_review(_grouped())
    parts = [part for part in review.groups[0].groups if part.kind == TRAINED]
    assert [(part.name, part.n, part.mean is not None) for part in parts] == [
        ("not stated", 1, False), ("Early group", 12, True), ("Late group", 8, True), ("Small group", 3, False),
    ]  # fmt: skip
    assert all(part.low < part.mean < part.high for part in parts if part.mean is not None)
    everybody = replace(stay(0), training_group="One group")
    one = make_review(
        camp_record(stays=(everybody, *(replace(stay(n), training_group="One group") for n in range(1, 24))))
    )
    assert not [part for part in one.groups[0].groups if part.kind == TRAINED]


def test_outsiders_see_no_training_group_whatever_its_size() -> None:
    stays = tuple(replace(stay(n), training_group="Coach Marl" if n % 2 else "Coach Fen") for n in range(24))
    words = " ".join(outside_texts(make_outside(make_review(camp_record(stays=stays)))))
    assert "Coach" not in words


def test_the_workbook_names_each_athlete_with_start_now_change_interval_and_verdict(built_camp: Camp) -> None:
    review = review_of(built_camp.root, "K")
    athletes = named_changes(built_camp.root, review)
    book = load_workbook(io.BytesIO(render_xlsx(review, athletes)))
    assert book.sheetnames == ["Camp", "Gains", "Parts", "Athletes"]
    sheet = book["Athletes"]
    assert sheet.auto_filter.ref == sheet.dimensions
    heads, *rows = sheet.iter_rows(values_only=True)
    rows = [dict(zip(heads, row, strict=True)) for row in rows]
    known = [row for row in rows if row["change (unit of the row)"] is not None]
    assert known
    for row in known:
        start, now, change, low, high = (
            row[f"{name} (unit of the row)"] for name in ("start", "now", "change", "interval from", "interval to")
        )  # fmt: skip
        assert now - start == pytest.approx(change, abs=0.16)  # each rounded on its own, to a tenth or finer
        assert low <= change <= high
        assert row["verdict"]
    assert "Body mass" not in {row["measure"] for row in rows}
    order = [(row["measure"], row["method"], row["athlete"]) for row in rows]
    assert all(a[2] <= b[2] for a, b in itertools.pairwise(order) if a[:2] == b[:2])  # by name, not by merit
    with pytest.raises(SummaryError, match="another build was published"):
        named_changes(built_camp.root, replace(review, build_id="0" * 16))
