from dataclasses import replace
from datetime import date
from math import erf

import pytest
from made import (
    ARLO,
    DAYS,
    LATER,
    LEFT,
    LINK,
    PLAN,
    PROJECTION,
    STANDING,
    STAY,
    TEE,
    TREND,
    VALUE,
    WEIGHIN,
    lookup,
)

from latewood.dashboard.charts.account import account_sheet
from latewood.dashboard.charts.fan import draw_fan
from latewood.dashboard.charts.strip import strip_sheet
from latewood.dashboard.charts.targets import target_key, target_sheet
from latewood.dashboard.charts.timeline import draw_timeline
from latewood.dashboard.text.condition_words import meanings
from latewood.dashboard.theme import DARK
from latewood.dashboard.views.athlete.head import build_head, stays_of
from latewood.dashboard.views.athlete.mass_link import build_accounts, per_kg_sentence
from latewood.dashboard.views.athlete.sources import build_sources
from latewood.dashboard.views.athlete.standing import build_strips
from latewood.dashboard.views.athlete.targets import build_fan, build_targets, latest_dates
from latewood.dashboard.views.athlete.timeline import LEFT_OUT, Record, build_timeline, first_measures
from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.links.results import MassLink
from latewood.pipeline.stats.peers.results import PeerNeighbour

TODAY = date(2032, 8, 12)
PROGRAM = MassLink(
    scope="program", measure="exit_speed", line=TEE, adjustment="time", per_kg=0.11, standard_error=0.04, low=0.03,
    high=0.19, between_per_kg=0.2, n_athletes=55, n_sessions=300, inflation=2.0, time_form="linear",
    verdict="estimated", reason="", level=0.95, method="test",
)  # fmt: skip


def record(**changes) -> Record:
    full = Record(
        values=[VALUE, LATER], trends=[TREND], mass=DAYS, weighins=[WEIGHIN, replace(WEIGHIN, used=False)],
        plans=[PLAN], bridges=[],
    )  # fmt: skip
    return replace(full, **changes)


def test_the_head_says_age_place_in_camp_and_dated_build() -> None:
    height = replace(VALUE, measure="standing_height", line="", value=180.34)
    head = build_head(ARLO, STAY, record(values=[height]), TODAY, lookup("us"))
    assert head.facts == ("16 y 5 mo", "baseball", "OF / 1B", "bats R, throws L", "class of 2034")
    assert head.camp_line == "Heath camp: day 73, arrived 1 Jun 2032, planned until 15 Aug 2032"
    assert head.build[0] == "5 ft 11.0 in tall on 2 Jun 2032"
    assert head.build[1].endswith("(trend of weigh-ins) on 6 Jul 2032")


def test_an_early_leaver_is_named_with_the_reason_code() -> None:
    assert (
        "left early (family) 20 Jun 2032"
        in build_head(ARLO, LEFT, record(values=[], mass=[]), TODAY, lookup()).camp_line
    )


def test_the_latest_stay_comes_first() -> None:
    assert [stay.stay_id for stay in stays_of("T1", lookup())] == ["T1@K"]


def test_the_timeline_marks_intake_and_draws_mass_and_outputs_on_one_span() -> None:
    view = build_timeline(record(), ["body_mass", "exit_speed"], [STAY], TODAY, lookup())
    assert view is not None
    assert [mark.label for mark in view.marks] == ["intake"]
    assert [panel.title for panel in view.panels] == ["Body mass", "Exit speed"]
    assert view.panels[0].points[1].series == LEFT_OUT
    assert view.panels[0].plan[1].value == 75.5
    domains = {
        str(c.to_dict()["layer"][0]["encoding"]["x"]["scale"]["domain"]) for c in draw_timeline(view, DARK)
    }
    assert len(domains) == 1


def test_the_trend_line_is_the_fitted_one_that_the_sheets_print() -> None:
    view = build_timeline(record(), ["exit_speed"], [STAY], TODAY, lookup())
    assert view is not None
    start, middle, end = view.panels[0].trend
    assert TREND.fitted_start is not None and TREND.change is not None
    assert start.value == pytest.approx(TREND.fitted_start * 3.6)
    assert end.value == pytest.approx((TREND.fitted_start + TREND.change) * 3.6)
    assert middle.low == middle.high == pytest.approx(middle.value)


def test_a_trend_without_a_fitted_start_draws_no_line() -> None:
    trends = [replace(TREND, fitted_start=None)]
    view = build_timeline(record(trends=trends), ["exit_speed"], [STAY], TODAY, lookup())
    assert view is not None and view.panels[0].trend == ()


def test_a_changed_method_breaks_the_line_and_says_why() -> None:
    hand = replace(VALUE, measure="sprint_60yd", line="timing=hand", own_line="timing=hand", value=7.05)
    gate = replace(hand, held_on=date(2032, 7, 20), line="timing=electronic", own_line="timing=electronic")
    view = build_timeline(record(values=[hand, gate], trends=[]), ["sprint_60yd"], [STAY], TODAY, lookup())
    assert view is not None
    assert (
        view.panels[0].breaks[0].reason == "timing changed: hand to electronic; not joined: no bridging days"
    )
    assert view.panels[0].breaks[0].changed == ("timing",)
    assert {point.series for point in view.panels[0].points} == {"timing=hand", "timing=electronic"}


def test_nothing_in_the_stay_draws_nothing() -> None:
    assert build_timeline(record(), ["sprint_60yd"], [STAY], TODAY, lookup()) is None
    assert build_timeline(record(), ["body_mass"], [], TODAY, lookup()) is None


def test_body_mass_and_the_most_tested_output_are_drawn_first() -> None:
    assert first_measures(record(), lookup()) == ("body_mass", "exit_speed")


def test_the_account_never_says_cause() -> None:
    account = build_accounts([LINK], [PROGRAM], "T1@K", lookup())[0]
    assert [row.words for row in account.rows] == ["Observed", "Goes with added mass", "Left over"]
    words = f"{account.sentence} {account.basis} {account_sheet([account])}".lower()
    assert "goes with" in words
    assert not any(word in words for word in ("because", "caused", "due to", "thanks to", "effect of"))


def test_a_refused_link_gives_its_reason_and_no_number() -> None:
    refused = replace(LINK, verdict="refused", reason="mass and time cannot be separated")
    account = build_accounts([refused], [PROGRAM], "T1@K", lookup())[0]
    assert account.rows == ()
    assert "mass and time cannot be separated" in account_sheet([account])


def test_the_program_link_is_given_per_shown_unit_of_mass() -> None:
    kilo = per_kg_sentence(PROGRAM, lookup("metric")).replace("\u00a0", " ")
    pound = per_kg_sentence(PROGRAM, lookup("us")).replace("\u00a0", " ")
    assert "each kg an athlete added went with +0.40 km/h" in kilo
    assert "each lb an athlete added went with +0.11 mph" in pound


def test_a_standing_is_shown_with_interval_and_effective_peers() -> None:
    peer = PeerNeighbour(
        athlete_id="T1", measure="exit_speed", line=TEE, peer_id="T9", weight=0.5, value=33.0, age_years=16.0,
        height_cm=178.0, mass_kg=71.0,
    )  # fmt: skip
    strip = build_strips([STANDING], [peer, replace(peer, value=37.0)], lookup())[0]
    headline = strip.headline.replace("\u00a0", " ")
    assert headline.startswith("Better than 71 of 100 of similar build (58 to 82)")
    assert strip.counted.replace("\u00a0", " ") == "95 % range; counts as 27 peers"
    assert strip.dots == (0.0, 1.0)
    assert strip.rule == pytest.approx(0.6)
    assert "T9" not in strip_sheet([strip])


def test_a_refused_standing_shows_no_percentile() -> None:
    refused = replace(
        STANDING, verdict="refused", percentile=None, low=None, high=None, reason="12 peers, 20 needed"
    )
    drawn = strip_sheet(build_strips([refused], [], lookup()))
    assert "Not shown: 12 peers, 20 needed" in drawn
    assert "of 100" not in drawn


def test_targets_are_ranges() -> None:
    at_mass = replace(PROJECTION, kind="mass", target_on=None, target_kg=75.5)
    targets = build_targets([at_mass, PROJECTION], "T1@K", lookup())
    assert [target.at.replace("\u00a0", " ") for target in targets] == ["on 15 Aug 2032", "at 75.5 kg"]
    assert targets[0].interval == "124.2 to 133.6"
    refused = build_targets(
        [replace(PROJECTION, verdict="refused", reason="three sessions")], "T1@K", lookup()
    )
    assert (refused[0].value, refused[0].refusal) == ("", "three sessions")


def test_the_fan_ends_at_the_target_date() -> None:
    fan = build_fan([PROJECTION], [VALUE, LATER], "T1@K", f"exit_speed|{TEE}", lookup())
    assert fan is not None
    assert fan.ahead[-1].on == date(2032, 8, 15)
    assert fan.ahead[0].low == fan.ahead[0].high
    assert draw_fan(fan, DARK).to_dict()["title"]["text"] == "Exit speed (tee, metal bat)"
    assert build_fan([PROJECTION], [], "T1@K", f"exit_speed|{TEE}", lookup()) is None


def test_every_number_has_its_source() -> None:
    row = build_sources(record(), STAY, lookup())[0]
    assert row["Imports"] == "aaa bbb ccc"
    assert row["Sessions"] == "5 sessions, 50 trials"
    assert row["Test's own error"].endswith("(own repeats)")


def test_a_break_says_what_the_catalogue_knows_of_what_changed() -> None:
    catalogue = load_catalogue()
    words = meanings(catalogue, {"timing", "delivery"})
    assert words.startswith(catalogue.measures["sprint_60yd"].conditions[0].meaning)
    assert words.count("The pitch brings speed of its own") == 1
    assert meanings(catalogue, set()) == ""
    assert "pitch brings" not in meanings(catalogue, {"timing"})


def test_a_target_is_drawn_from_the_latest_test_day_in_units_of_its_error_better_to_the_right() -> None:
    """Worked by hand: the tape is minimal_change_one / sqrt 2, the chance is the normal one of the stated range."""
    known = lookup()
    error = replace(
        next(iter(known.errors.values())),
        measure=PROJECTION.measure,
        line=PROJECTION.line,
        minimal_change_one=0.5 * 2**0.5,
    )
    known = replace(known, errors={(PROJECTION.measure, PROJECTION.line): error})
    value = replace(
        VALUE, stay_id="T1@K", measure=PROJECTION.measure, line=PROJECTION.line, value=PROJECTION.value - 0.5
    )
    (target,) = build_targets([PROJECTION], "T1@K", known, values=[value])
    assert target.place is not None
    assert target.place.at == pytest.approx(1.0)
    assert target.place.low == pytest.approx((PROJECTION.low - value.value) / 0.5)
    spread = (PROJECTION.high - PROJECTION.low) / 2 / 1.959964
    chance = 0.5 * (1 + erf(0.5 / spread / 2**0.5))
    assert f"{round(100 * chance)}" in target.chance
    assert target.now.startswith("now ")
    lower = replace(known, measures={
        key: replace(one, better="lower") if key == PROJECTION.measure else one for key, one in known.measures.items()
    })  # fmt: skip
    (turned,) = build_targets([PROJECTION], "T1@K", lower, values=[value])
    assert turned.place is not None
    assert turned.place.at == pytest.approx(-1.0)
    (bare,) = build_targets([PROJECTION], "T1@K", replace(known, errors={}), values=[value])
    assert bare.place is None
    assert bare.chance == target.chance
    sheet = target_sheet([target, bare])
    assert sheet.count("lw-pic") == 1
    assert "better is to the right" in target_key()


def test_a_measure_has_one_row_that_of_its_last_date() -> None:
    sooner = replace(PROJECTION, target_on=date(2032, 8, 1))
    at_mass = replace(PROJECTION, kind="mass", target_on=None, target_kg=75.5)
    kept, earlier = latest_dates(build_targets([sooner, PROJECTION, at_mass], "T1@K", lookup()))
    assert [row.on for row in kept] == [PROJECTION.target_on, None]
    assert [row.on for row in earlier] == [date(2032, 8, 1)]
