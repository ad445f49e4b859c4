"""The strength coach's Monday: scenarios 1 to 5, 27 and 28 of docs/scenarios.md, looked at in Chromium."""

from __future__ import annotations

import re

import pytest

from latewood.dashboard.text.wording import signed_number
from tests.browser.scenarios.looking import POUND, asked, between, look, metric, plain, read, settle

REVIEW = (
    "select r.*, a.table_row, a.words from plan_review r join plan_advice a using (plan_id) "
    "join athlete using (athlete_id) where display_name = $name"
)
GUARD = (
    "select g.* from plan_guard g join plan_review using (plan_id) join athlete using (athlete_id) "
    "where display_name = $name and g.measure = $measure and g.role = $role"
)
FIRST, LATER = "Whom to talk to first", "Nothing to decide now"


@pytest.fixture(scope="module")
def board(demo) -> str:
    """The words of the plan board in kilograms."""
    look(demo.tab, f"{demo.address}/plans", FIRST)
    metric(demo.tab)
    return read(demo.tab)


def row(board: str, name: str) -> str:
    """The numbers of one row of the board, from the name to the last weigh-in."""
    return between(board, name, "in two weeks")


def card(demo, name: str) -> str:
    """The plan one tap below its row: from its status to the fold with its data, in kilograms."""
    look(demo.tab, f"{demo.address}/plans", FIRST)
    metric(demo.tab)
    demo.tab.get_by_role("link", name=name).click()
    demo.tab.get_by_text("The plan and its data").wait_for(timeout=30_000)
    settle(demo.tab)
    return between(read(demo.tab), name, "The plan and its data")


def whom_first(board: str) -> str:
    return between(board, FIRST, LATER)


def test_01_an_athlete_on_plan_is_read_off_his_card(demo, board) -> None:
    observed, own = asked(demo.root, REVIEW, name="Ansel Briarfen"), card(demo, "Ansel Briarfen")
    low, high = (signed_number(observed[end], 2) for end in ("rate_low", "rate_high"))
    rate = plain(f"{signed_number(observed['rate'], 2)} kg/wk ({low} to {high})")
    assert own.startswith(" On plan")
    assert rate in row(board, "Ansel Briarfen")
    assert f"{observed['chance_target']:.0%}".replace("%", " %") in row(board, "Ansel Briarfen")
    assert f"Now {observed['trend_kg']:.1f} kg" in own
    assert f"Rate {rate}" in own
    assert f"75.5 kg by 5 Sep: {observed['chance_target']:.0%} chance".replace("%", " %") in own
    # told: 73.9 kg at 0.31 ± 0.10 kg/wk, needed 0.32; forecast 75.45 ± 0.52 and 46 % from a free straight line
    assert observed["trend_kg"] == pytest.approx(73.9, abs=0.1)
    assert observed["rate_low"] < 0.31 < observed["rate_high"]
    assert observed["needed_rate"] == pytest.approx(0.32, abs=0.015)
    assert observed["needed_rate"] < observed["ceiling_rate"]
    # here gains fade, and some are held for weeks before the date, so that less is expected
    assert observed["forecast_low"] < 75.45 < observed["forecast_high"]
    assert 75.45 - 0.5 < observed["forecast_kg"] < 75.45
    assert 0.25 < observed["chance_target"] < 0.46


def test_01_the_coach_decides_to_keep_and_the_board_says_so(own_demo) -> None:
    tab = own_demo.tab
    look(tab, own_demo.plan("Ansel Briarfen"), "Record the decision")
    tab.get_by_role("radio", name="Keep").check(force=True)
    form = tab.locator("[data-testid=stForm]").filter(
        has=tab.get_by_role("button", name="Record the decision")
    )
    form.get_by_label("Your name").fill("Odalys Fen")
    form.get_by_label("Why, in one sentence").fill("on the line")
    form.get_by_role("button", name="Record the decision").click()
    tab.get_by_text("Recorded: keep.").wait_for(timeout=30_000)
    observed = look(tab, f"{own_demo.address}/plans", FIRST)
    assert "decided 1 Aug: keep" in row(observed, "Ansel Briarfen")
    assert "Ansel Briarfen" not in whom_first(observed)


def test_02_a_stalled_gainer_is_offered_what_the_ceiling_allows(demo, board) -> None:
    observed, own = asked(demo.root, REVIEW, name="Kwabena Marlwick"), card(demo, "Kwabena Marlwick")
    assert "Kwabena Marlwick" in whom_first(board)
    assert f"{observed['line_kg'] - observed['trend_kg']:.1f} kg below line" in own
    assert (
        f"{observed['reachable_kg']:.1f} kg by 22 Aug, or the target {observed['extra_weeks']:.1f} weeks later"
        in own
    )
    assert f"the target now needs +{observed['needed_rate']:.2f} kg/wk" in own
    # told: 73.4 kg, 1.05 below, needed 0.70 a week against 0.37; 74.5 at the ceiling or 2.7 weeks more
    assert observed["needed_rate"] > observed["ceiling_rate"]
    assert observed["trend_low"] < 73.4 < observed["trend_high"]
    assert observed["reachable_kg"] == pytest.approx(
        observed["trend_kg"] + 3 * observed["ceiling_rate"], abs=0.02
    )
    assert 3 + observed["extra_weeks"] == pytest.approx(
        (75.5 - observed["trend_kg"]) / observed["ceiling_rate"], abs=0.05
    )
    assert observed["chance_target"] < 0.05


def test_02_seventy_five_and_a_half_on_the_old_date_cannot_be_saved(own_demo) -> None:
    tab = own_demo.tab
    look(tab, own_demo.plan("Kwabena Marlwick"), "Record the decision")
    tab.get_by_text("Change the target or date, or end the plan").click()
    tab.get_by_text("above the ceiling").last.wait_for()
    settle(tab)
    assert "Cannot be saved: " in read(tab)
    assert tab.get_by_role("button", name="Save the plan").count() == 0


def test_03_in_the_second_week_nothing_is_judged(board) -> None:
    for name in ("Galen Whinholt", "Ginevra Nettlewade"):
        assert name in board.split("Too early to tell", 1)[1].split("Keep.", 2)[1]
        assert name not in whom_first(board)


def test_04_too_fast_is_said_without_a_referral(demo, board) -> None:
    observed, own = asked(demo.root, REVIEW, name="Tomislav Eelgrass"), card(demo, "Tomislav Eelgrass")
    assert own.startswith(" Too fast")
    assert re.search(r"Too fast \(\d\) [^.]*\. Tomislav Eelgrass", whom_first(board))
    assert (
        f"above the ceiling with a chance of {observed['chance_above_ceiling']:.0%}".replace("%", " %") in own
    )
    assert f"{observed['rate_percent']:.2f} %/wk" in own
    assert re.search(r"raised by mistake in \d+ % of stays that are on plan", own)
    # told: 0.62 kg/wk, ceiling 0.376, chance 0.993; no referral, since 1 % a week is not beaten
    assert observed["rate_low"] < 0.62 < observed["rate_high"]
    assert observed["ceiling_rate"] == pytest.approx(0.376, abs=0.002)
    assert (observed["table_row"], observed["chance_above_ceiling"] > 0.8) == ("2", True)
    assert "refer" not in own.lower()


@pytest.mark.parametrize(
    ("name", "row", "words", "low", "high"),
    [
        ("Ansel Briarfen", "9", "Perhaps slower", 0.5, 0.8),
        ("Keanu Shinglethicket", "8", "Paying with speed", 0.8, 1.0),
    ],
)
def test_05_a_slower_split_is_a_row_of_the_table(demo, name, row, words, low, high) -> None:
    with_splits = [
        asked(demo.root, GUARD, name=name, measure=m, role="split") for m in ("sprint_10yd", "sprint_60yd")
    ]
    worst = max(with_splits, key=lambda one: one["chance_worse"])
    assert low <= worst["chance_worse"] < high
    observed = look(demo.tab, demo.plan(name), "Does it pay")
    assert f"Decision table, row {row}: {words}." in observed
    text = f"slower by {worst['margin']:.2f} s or more: {worst['chance_worse']:.0%}".replace("%", " %")
    assert text in between(observed, "Does it pay", "Energy")


def test_05_the_split_of_the_story_is_told_with_its_chance(demo) -> None:
    observed = look(demo.tab, demo.athlete("Ximo Calderwisp"), "On one time axis")
    own = between(
        between(observed, "What changed", "On one time axis"), "60-yard sprint", "Trap-bar deadlift"
    )
    result = re.search(
        r"Not clear yet (0\.\d\d) s slower \(0\.\d\d faster to 0\.\d\d slower\) "
        r".*?leaning worse \((\d\d) % at one look\)",
        own,
    )
    assert result is not None, own
    # told: +0.103 s over the retests, slower with a chance of 0.95; the line through five days says a little else
    assert float(result[1]) == pytest.approx(0.103, abs=0.03)
    assert int(result[2]) == pytest.approx(95, abs=6)


def test_27_no_plan_can_be_made_for_a_girl_of_thirteen(demo) -> None:
    observed = look(
        demo.tab, f"{demo.address}/new_plan?athlete={demo.id_of('Noor Sandglass')}", "No plan for"
    )
    assert "No plan for Noor Sandglass: younger than 14: growth only, no plan." in observed
    assert demo.tab.get_by_role("button", name="Save the plan").count() == 0
    demo.tab.get_by_role("link", name="Growth of Noor Sandglass").click()
    demo.tab.get_by_text("In this stay height changed by").wait_for(timeout=30_000)


def test_27_her_growth_and_its_fit_are_on_her_page(demo) -> None:
    observed = look(demo.tab, demo.athlete("Noor Sandglass"), "What changed")
    stay = asked(
        demo.root,
        "select g.* from growth_share g join athlete using (athlete_id) "
        "where display_name = 'Noor Sandglass' and span = 'stay' order by last_on desc limit 1",
    )
    text = between(observed, "In this stay", "Growth is read from")
    assert f"{stay['gained'] / POUND:+.1f} lb" in text
    assert f"{stay['fits_growth'] / POUND:+.1f} lb" in text
    board = look(demo.tab, f"{demo.address}/plans", FIRST)
    assert "Noor Sandglass" in between(
        board, "No weight plan is made for an athlete under 14", "Plans that have ended"
    )


def test_28_strength_without_mass_is_no_push_to_gain(demo, board) -> None:
    own = card(demo, "Leilani Fernkelp")
    assert "Progress without mass No push to gain" in own
    lift = asked(demo.root, GUARD, name="Leilani Fernkelp", measure="trap_bar_deadlift", role="strength")
    ratio = asked(
        demo.root, GUARD, name="Leilani Fernkelp", measure="trap_bar_deadlift", role="strength per kg"
    )
    exit_ = asked(demo.root, GUARD, name="Leilani Fernkelp", measure="exit_speed", role="output")
    observed = look(demo.tab, demo.plan("Leilani Fernkelp"), "Does it pay")
    pays = between(observed, "Does it pay", "Energy")
    assert "Decision table, row 10: Progress without mass." in observed
    assert f"{lift['change'] / POUND:+.1f} lb" in pays
    assert f"{ratio['before']:.2f}" in pays
    assert f"{ratio['after']:.2f}" in pays
    # told: +16 kg (chance 0.998), per kg 1.69 to 1.93, exit +2.7 mph
    assert lift["change"] == pytest.approx(16, abs=0.5)
    assert lift["chance_better"] == pytest.approx(0.998, abs=0.002)
    assert (ratio["before"], ratio["after"]) == (pytest.approx(1.69, abs=0.01), pytest.approx(1.93, abs=0.01))
    assert exit_["change"] / 0.44704 == pytest.approx(2.7, abs=0.1)
