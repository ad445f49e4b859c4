from dataclasses import replace

import pytest
from made import FEW, LATER, SPRINT, TREND, UNCLEAR, VALUE, lookup

from latewood.dashboard.charts.rail import rail_sheet
from latewood.dashboard.text.wording import THIN
from latewood.dashboard.views.athlete.rails import REACH, build_rails, verdict_sentence
from latewood.pipeline.catalogue.model import Better
from latewood.pipeline.stats.change.results import RetestAdvice
from latewood.pipeline.stats.change.trend import clear_at, judge


@pytest.mark.parametrize(("n_sessions", "planned"), [(4, 4), (4, 7), (12, 12), (20, 30)])
def test_the_tape_ends_where_the_trends_say_clear(n_sessions: int, planned: int) -> None:
    limit = clear_at(n_sessions, planned)
    for z in (limit - 0.01, limit + 0.01):
        trend = replace(TREND, z=z, n_sessions=n_sessions, planned_sessions=planned)
        verdict, _ = judge(z, n_sessions, planned, Better.HIGHER)
        rail = build_rails([replace(trend, verdict=verdict)], [], lookup()).rails[0]
        assert (abs(rail.position) > 1.0) == verdict.startswith("clear")


def test_the_surest_comes_first_and_few_sessions_come_apart() -> None:
    second = replace(UNCLEAR, line="other")
    third = replace(FEW, line="third")
    sheet = build_rails([second, third, TREND], [], lookup())
    assert [rail.verdict for rail in sheet.rails] == ["Clear gain", "Not clear yet"]
    assert sheet.too_few[0].startswith("Exit speed (third): 2 sessions: a verdict needs 4")
    assert "2 changes" in sheet.by_chance


def test_better_is_to_the_right_for_times_too() -> None:
    faster = replace(TREND, measure=SPRINT.measure, line="", change=-0.1, low=-0.16, high=-0.04, z=-3.0)
    rail = build_rails([faster], [], lookup()).rails[0]
    assert rail.position == pytest.approx(3.0 / clear_at(faster.n_sessions, faster.planned_sessions))
    assert rail.amount == "0.10\u00a0s faster"
    assert rail.interval == "0.04 to 0.16 faster"


def test_a_huge_change_stays_on_the_rail() -> None:
    assert build_rails([replace(TREND, z=30.0)], [], lookup()).rails[0].position == REACH


def test_a_mark_inside_the_tape_is_never_clear() -> None:
    for trend in (TREND, UNCLEAR):
        rail = build_rails([trend], [], lookup()).rails[0]
        assert rail.clear == (abs(rail.position) > 1)


def test_the_sentence_gives_amount_interval_sessions_and_dates() -> None:
    words = verdict_sentence(TREND, lookup("us")).replace("\u00a0", " ")
    assert words == (
        "Exit speed (tee, metal bat): clear gain, up by 2.9 mph "
        "(95 % range +1.1 to +4.7; 5 sessions, 2 Jun to 11 Aug 2032)."
    )


def test_an_unclear_change_is_not_called_a_gain() -> None:
    words = verdict_sentence(UNCLEAR, lookup())
    assert "which may be no change" in words
    assert "gain" not in words


def test_a_rail_names_the_files_it_rests_on() -> None:
    assert build_rails([TREND], [VALUE, LATER], lookup()).rails[0].imports == "aaa bbb ccc"


def test_text_from_files_cannot_become_markup() -> None:
    trend = replace(TREND, line='<img src="x">')
    assert "<img" not in rail_sheet(build_rails([trend], [], lookup()).rails)


def test_an_unknown_measure_is_left_out() -> None:
    assert build_rails([replace(TREND, measure="gone")], [], lookup()).rails == ()


def test_both_intervals_are_drawn_the_athletes_own_and_the_likely_size() -> None:
    drawn = rail_sheet(
        build_rails([replace(TREND, sized_change=1.0, sized_low=0.4, sized_high=1.6)], [], lookup()).rails
    )
    rail = build_rails([TREND], [], lookup()).rails[0]
    assert rail.interval in drawn
    assert f"likely size {rail.sized}<" in drawn
    assert rail.sized != f"{rail.amount} ({rail.interval})"
    alone = rail_sheet(build_rails([replace(TREND, sized_change=None)], [], lookup()).rails)
    assert "likely size" not in alone


def _again(extra: int, chance: float, **changed: object) -> RetestAdvice:
    made = RetestAdvice(
        athlete_id=UNCLEAR.athlete_id, stay_id=UNCLEAR.stay_id, measure=UNCLEAR.measure, line=UNCLEAR.line,
        extra=extra, weeks_apart=2.6, sure_now=0.9, sure_then=0.97, clear_then=False, chance_clear=chance,
        n_sessions=4, level=0.95, method="",
    )  # fmt: skip
    return replace(made, **changed)


def test_whether_to_test_again_is_one_line_and_the_rest_opens() -> None:
    advice = [_again(2, 0.35), _again(1, 0.21), _again(1, 0.77, stay_id="another")]
    sheet = rail_sheet(build_rails([UNCLEAR], [], lookup(), retests=advice).rails).replace(THIN, " ")
    short = "Test again? Clear after one more day: 21 %, two: 35 %"
    assert f">{short} " in sheet
    assert (
        "2.6 weeks apart. If the next two look the same: 97 % sure of the direction at one look instead of "
        "90 %, still not" in sheet
    )
    assert "77" not in sheet
    assert "Test again" not in rail_sheet(
        build_rails([replace(TREND, line="other")], [], lookup(), retests=advice).rails
    )
