"""The column `test_days` of a camps file: read, checked day by day, and held with its reason where it is wrong."""

from __future__ import annotations

from datetime import date

import pytest

from latewood.pipeline.ingest.people.camp_calendar import read_test_days
from tests.conftest import Camp

pytestmark = pytest.mark.usefixtures("rows_only")

STARTS, ENDS = date(2032, 6, 1), date(2032, 8, 15)
HEAD = "camp_id,label,starts_on,ends_on,time_zone,place,test_days\n"


@pytest.mark.parametrize(
    "text", ["2032-07-05;2032-06-02", "2032-06-02 2032-07-05", "2032-06-02|2032-07-05|2032-06-02"]
)
def test_days_are_read_in_order_and_once(text: str) -> None:
    assert read_test_days(text, "%Y-%m-%d", STARTS, ENDS) == (date(2032, 6, 2), date(2032, 7, 5))


def test_days_follow_the_date_format_of_the_mapping() -> None:
    assert read_test_days("02.06.2032; 5.7.2032", "%d.%m.%Y", STARTS, ENDS) == (
        date(2032, 6, 2),
        date(2032, 7, 5),
    )


def test_no_days_are_no_days() -> None:
    assert read_test_days("  ", "%Y-%m-%d", STARTS, ENDS) == ()


def test_a_wrong_day_and_one_far_outside_the_camp_are_refused_by_name() -> None:
    with pytest.raises(ValueError, match="'2032-13-05' is not a date written as %Y-%m-%d"):
        read_test_days("2032-06-02;2032-13-05", "%Y-%m-%d", STARTS, ENDS)
    assert read_test_days("2032-05-29", "%Y-%m-%d", STARTS, ENDS) == (date(2032, 5, 29),)
    with pytest.raises(ValueError, match="2032-05-28 is outside the camp, 2032-06-01 to 2032-08-15"):
        read_test_days("2032-05-28", "%Y-%m-%d", STARTS, ENDS)


def test_the_calendar_reaches_the_warehouse_and_the_latest_file_wins(camp: Camp) -> None:
    camp.take(
        "more.csv", HEAD + "K,Heath camp,2032-06-01,2032-08-15,America/Chicago,F,2032-06-02;2032-07-05\n"
    )
    days = "select camp_id, on_date from test_day order by on_date"
    assert camp.rows(days) == [("K", date(2032, 6, 2)), ("K", date(2032, 7, 5))]
    camp.take("moved.csv", HEAD + "K,Heath camp,2032-06-01,2032-08-15,America/Chicago,F,2032-07-06\n")
    assert camp.rows(days) == [("K", date(2032, 7, 6))]


def test_a_wrong_calendar_holds_the_row_and_says_which_day(camp: Camp) -> None:
    camp.take("wrong.csv", HEAD + "K,Heath camp,2032-06-01,2032-08-15,America/Chicago,F,2032-06-02;soon\n")
    ((reason,),) = camp.rows("select reason from held_row where rule = 'people_row'")
    assert reason.startswith("test_days: 'soon' is not a date")
    assert camp.rows("select count(*) from test_day") == [(0,)]
