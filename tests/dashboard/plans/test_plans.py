import re
from dataclasses import replace
from datetime import date

import pytest
from made import CLEO, DAYS, LEFT, PLAN, REVIEW, VALUE, WEIGHIN, lookup

from latewood.dashboard.charts.corridor import draw_corridor
from latewood.dashboard.charts.spark import track_svg
from latewood.dashboard.text.wording import mass_scale
from latewood.dashboard.theme import LIGHT
from latewood.dashboard.views.plans.plan_case import PlanRecord
from latewood.dashboard.views.plans.plan_form import NO_CHANCE, Maturity, feasibility, feasible_text
from latewood.dashboard.views.plans.plan_opened import energy_text, guard_lines, what_if_text, why_lines
from latewood.dashboard.views.plans.plans import STATUS_WORDS, Board, build_board, is_active
from latewood.pipeline.ingest.plans.plan_forms import PlanDraft
from latewood.pipeline.stats.plans.results import PlanAdvice, PlanGuard
from latewood.pipeline.stats.plans.rules import STATUSES, PlanSettings
from latewood.pipeline.stats.plans.table import TABLE, Evidence, first_row
from latewood.pipeline.stats.plans.whatif import state_without_weighins, what_if

TODAY = date(2032, 7, 8)


def board(*pairs, system: str = "metric", today: date = TODAY) -> Board:
    record = PlanRecord(
        reviews=[review for review, _ in pairs],
        plans=[plan for _, plan in pairs],
        mass=DAYS,
        weighins=[WEIGHIN],
    )
    return build_board(record, None, today, lookup(system))


def facts(view: Board) -> dict[str, str]:
    return {label: text.replace("\u00a0", " ") for label, text in view.cards[0].facts}


def test_every_status_has_words_of_its_own() -> None:
    assert set(STATUS_WORDS) == set(STATUSES)


def test_a_card_gives_rate_with_interval_chance_and_days_since() -> None:
    shown = facts(board((REVIEW, PLAN)))
    assert shown["Now"] == "73.9 kg, 0.2 kg above line"
    assert shown["Rate"] == "+0.31 kg/wk (+0.11 to +0.51), +0.42 %/wk, last 3 weeks"
    assert shown["Target"] == "75.5 kg by 10 Aug: 46 % chance; plan +0.35 kg/wk"
    assert shown["Last weigh-in"] == "2 days ago; 9 in two weeks"


def test_the_units_switch_changes_every_mass_and_rate() -> None:
    shown = facts(board((REVIEW, PLAN), system="us"))
    assert shown["Rate"].startswith("+0.68 lb/wk (+0.24 to +1.12), +0.42 %/wk")
    assert "166.4 lb" in shown["Target"]
    assert not any("kg" in text for text in shown.values())


def test_what_needs_a_decision_comes_first_in_the_order_of_urgency() -> None:
    plans = [replace(PLAN, plan_id=name) for name in ("a", "b", "c")]
    reviews = [
        replace(REVIEW, plan_id="a"),
        replace(REVIEW, plan_id="b", status="stalled", needs_decision=True),
        replace(REVIEW, plan_id="c", status="refer", needs_decision=True),
    ]
    view = board(*zip(reviews, plans, strict=True))
    assert [card.plan_id for card in view.cards] == ["c", "b", "a"]
    assert view.head == "3 active plans, 2 need a decision."


def test_the_page_says_how_many_false_alarms_to_expect() -> None:
    pairs = [
        (replace(REVIEW, plan_id=str(n), planned_rate=0.18, alarm_share=0.049), replace(PLAN, plan_id=str(n)))
        for n in range(30)
    ]
    words = board(*pairs).false_alarms
    # 30 plans at half of the ceiling: .049 for their own limit, and .008 for being too fast (stats.plans.words)
    assert "every one of these 30 plans" in words
    assert "about 2 would still raise an alarm" in words


def test_an_alarm_names_its_false_rate() -> None:
    alarm = replace(REVIEW, status="stalled", needs_decision=True, false_alarm=0.044)
    assert "4\u00a0% of stays that are on plan" in board((alarm, PLAN)).cards[0].alarm
    assert board((REVIEW, PLAN)).cards[0].alarm == ""


def test_a_target_out_of_reach_offers_what_the_ceiling_allows() -> None:
    late = replace(
        REVIEW, status="stalled", needs_decision=True, needed_rate=0.70, reachable_kg=74.5, extra_weeks=2.7
    )
    reach = facts(board((late, PLAN)))["At the ceiling"]
    assert reach == "74.5 kg by 10 Aug, or the target 2.7 weeks later (the target now needs +0.70 kg/wk)"


def test_less_than_a_week_is_said_in_days_and_not_as_out_of_reach() -> None:
    near = replace(
        REVIEW, status="target out of reach", needs_decision=True, needed_rate=0.40, reachable_kg=75.4,
        extra_weeks=0.1, chance_target=0.046,
    )  # fmt: skip
    view = board((near, PLAN))
    assert facts(view)["At the ceiling"].startswith("75.4 kg by 10 Aug, or the target 1 day later")
    assert view.cards[0].status == "Target unlikely by its date"
    sure = board((replace(near, chance_target=0.02), PLAN)).cards[0]
    assert sure.status == "Target very unlikely by its date"


@pytest.mark.parametrize("system", ["us", "metric"])
def test_a_trend_that_has_passed_its_target_is_not_said_to_be_at_it(system: str) -> None:
    past = replace(REVIEW, status="reached", trend_kg=PLAN.target_kg + 2.13, needs_decision=True)
    assert board((past, PLAN), system=system).cards[0].status == "Above the target"
    at = replace(past, trend_kg=PLAN.target_kg + 0.4)
    assert board((at, PLAN), system=system).cards[0].status == "Target reached"
    words = " ".join(why_lines(past, PLAN, None, PlanSettings(), system)).replace("\u00a0", " ")
    assert f"The trend stands {'4.7 lb' if system == 'us' else '2.1 kg'} above the target." in words


def test_keep_never_stands_beside_a_small_chance() -> None:
    card = board((replace(REVIEW, chance_target=0.14), PLAN)).cards[0]
    assert (card.status, card.decide) == (
        "No alarm, target unlikely by its date", "Keep for now; prepare the talk about target or date.",
    )  # fmt: skip
    for row in TABLE:
        if row.offered.startswith("Keep"):
            held = Evidence(status="on plan", strength_up=0.95, output_up=0.9, chance_target=0.14)
            assert not row.holds(held) or row.number in {"unlikely", "open"}
    assert (
        first_row(Evidence(status="on plan", strength_up=0.95, output_up=0.9, chance_target=0.14)).number
        == "unlikely"
    )


def test_no_kilogram_under_us_units_and_no_pound_under_metric() -> None:
    """Also in what the table offers, in the energy of a gap and in height grown."""
    advice = PlanAdvice(
        plan_id=PLAN.plan_id, table_row="12", words="", offered="", why="", height_change=1.6,
    )  # fmt: skip
    for system, wrong in (("us", r"\b(kg|cm|kilograms?)\b"), ("metric", r"\b(lb|in|pounds?)\b(?= |\.)")):
        review = replace(REVIEW, rate=0.05, rate_low=0.0, rate_high=0.1)
        words = [
            *(line for line in why_lines(review, PLAN, advice, PlanSettings(), system) if "Height" in line),
            energy_text(review, advice, mass_scale(system), minor=True).split("Hall")[0],
            *(f"{row.words} {row.offered}" for row in TABLE),
        ]
        text = (
            " ".join(words).replace("\u00a0", " ").replace(" in this stay", "").replace(" in two weeks", "")
        )
        for idle in ("on record", "in the dietitian", "bring in"):
            text = text.replace(idle, "")
        assert not re.search(wrong, text), text


def test_ended_plans_and_leavers_are_not_active() -> None:
    assert is_active(PLAN, None, TODAY)
    assert not is_active(replace(PLAN, ended_on=date(2032, 7, 1)), None, TODAY)
    assert not is_active(PLAN, LEFT, TODAY)
    assert not is_active(PLAN, None, date(2032, 8, 11))
    assert board((REVIEW, PLAN), today=date(2032, 8, 11)).cards == ()


def test_an_athlete_under_14_is_named_without_a_plan() -> None:
    assert board((REVIEW, PLAN), today=date(2032, 6, 10)).too_young == (CLEO.display_name,)


def test_the_corridor_draws_plan_trend_and_weighins() -> None:
    drawn = draw_corridor(board((REVIEW, PLAN)).cards[0].track, LIGHT).to_dict()
    text = str(drawn)
    assert (text.count("'2032-08-10'"), text.count("'kind': 'weigh-in'")) == (2, 1)
    assert {72.2, 72.1, 73.9, 75.5} <= set(values_of(drawn))
    axes = [layer["encoding"]["y"]["axis"] for layer in drawn["layer"]]
    assert all(axis["labels"] and axis["ticks"] for axis in axes)
    assert "'title': 'body mass, kg'" in text


def test_the_small_line_of_a_row_draws_plan_and_trend() -> None:
    drawing = track_svg(board((REVIEW, PLAN)).cards[0].track, LIGHT)
    assert drawing.count("<polyline") == 2
    assert "NaN" not in drawing


def test_a_hidden_mass_is_not_in_what_the_chart_sends() -> None:
    record = PlanRecord(
        reviews=[REVIEW], plans=[PLAN], mass=DAYS, weighins=[WEIGHIN], hidden=frozenset({PLAN.athlete_id})
    )
    (card,) = build_board(record, None, TODAY, lookup("metric")).cards
    drawn = draw_corridor(card.track, LIGHT).to_dict()
    assert all(0.0 <= value <= 1.0 for value in values_of(drawn))
    assert not any(layer["encoding"]["y"]["axis"]["labels"] for layer in drawn["layer"])
    assert "'field': 'value', 'format'" not in str(drawn)  # no tip with the number
    assert (card.short.rate, card.short.span) == ("+0.42\u00a0%/wk", "")


def values_of(drawn: dict) -> list[float]:
    """Every height of a drawing."""
    rows = [row for layer in drawn["layer"] for row in layer["data"]["values"]]
    return [row[name] for row in rows for name in ("value", "low", "high")]


def test_a_maximum_beside_a_plan_names_the_set_that_it_was_estimated_from() -> None:
    guard = PlanGuard(
        plan_id="P1", measure="exit_speed", line=VALUE.line, role="strength", n_before=1, n_after=1,
        before_on=VALUE.held_on, after_on=date(2032, 7, 5), before=34.0, after=36.0, change=2.0, standard_error=0.5,
        chance_better=0.99, chance_worse=0.01, margin=0.0,
    )  # fmt: skip
    last = replace(VALUE, held_on=date(2032, 7, 5), best=VALUE.value, set_load=30.0, set_reps=5)
    (line,) = guard_lines([guard], lookup(), values=[VALUE, last])
    assert line.test.endswith("; 1 of 2 values estimated from sets of several repetitions")
    assert line.latest.endswith("; estimated from 108.0\u00a0km/h × 5")
    (lifted,) = guard_lines([guard], lookup(), values=[VALUE, replace(VALUE, held_on=date(2032, 7, 5))])
    assert "estimated" not in lifted.test + lifted.latest


def test_without_a_rate_the_form_and_the_what_if_say_no_chance() -> None:
    alone = state_without_weighins(72.0, date(2032, 6, 1))
    scale = mass_scale("metric")
    known = what_if_text(what_if(replace(alone, rate_known=True), 73.0, date(2032, 6, 29)), 0.5, scale)
    assert "Chance to be there by the date" in known
    text = what_if_text(what_if(alone, 73.0, date(2032, 6, 29)), 0.5, scale)
    assert "Needed:" in text and text.endswith(NO_CHANCE)
    draft = PlanDraft(
        plan_id="", athlete_id="T1", start_on=date(2032, 6, 1), start_kg=72.0, target_on=date(2032, 6, 29),
        target_kg=73.0, purpose="", reason="",
    )  # fmt: skip
    form = feasibility(alone, draft, Maturity(age=16.0, stage=""), PlanSettings(), None)
    assert NO_CHANCE in feasible_text(form, scale)
    assert "Chance on today" not in feasible_text(form, scale)
