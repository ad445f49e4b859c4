"""The chart of single athletes' changes against their weeks in camp: every athlete once, leavers as crosses."""

from latewood.dashboard.charts.stay_length import draw_stay_length, stay_text
from latewood.dashboard.theme import DARK
from latewood.pipeline.pages.camp.make import make_review
from tests.pipeline.pages.camp_record import CHANGES, camp_record


def test_every_athlete_stands_once_at_his_weeks_and_the_one_who_left_is_a_cross() -> None:
    sheet = make_review(camp_record()).groups[0]
    drawn = draw_stay_length(sheet, DARK).to_dict()  # against Vega-Lite's schema
    (points,) = [rows for rows in drawn["datasets"].values() if "early" in rows[0]]
    assert len(points) == len(CHANGES)
    assert [row["weeks"] for row in points if row["early"]] == [3.0]
    zero, stayed, left = drawn["layer"]
    assert (stayed["transform"], left["transform"]) == (
        [{"filter": "!datum.early"}],
        [{"filter": "datum.early"}],
    )
    assert left["mark"]["shape"].startswith("M-1,-1")
    assert zero["encoding"]["y"]["field"] == "y"
    assert stay_text(sheet).endswith(
        f"change of {len(CHANGES)} athletes against their weeks in camp, 1 of them left early"
    )
