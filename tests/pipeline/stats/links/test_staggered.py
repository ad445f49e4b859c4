"""Drawn plan starts: what is planted is found, what the draw did not do is not read from it, and the refusals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.links.mass_link import mass_links
from latewood.pipeline.stats.links.staggered import Contrast, Trial, contrast, estimate_of
from latewood.pipeline.stats.links.staggered_camps import Drawn, staggered_link, staggered_links
from tests.camps import STRENGTH
from tests.drawn_camp import ARRIVED, Truth, drawn_trial, frames_of

MEASURES = {"exit_speed": load_catalogue().measures["exit_speed"]}
STARTS, TESTS = (0.0, 8.0), tuple(range(0, 17, 2))
CLEAR = Truth(noise=0.3, practice=(0.10, 0.03), drift=(0.05, 0.04), gain=(0.30, 0.05))


def trial_of(seed: int, n: int = 48, truth: Truth = CLEAR) -> Trial:
    return drawn_trial(np.random.default_rng(seed), n, STARTS, TESTS, truth)


def drawn_of(trial: Trial, kept: int | None = None) -> Drawn:
    names = {f"T{k}": k for k in range(len(trial.group))}
    began = frozenset(list(names)[: len(names) if kept is None else kept])
    days = (np.datetime64(ARRIVED, "D").astype(int) + 7.0 * np.asarray(STARTS)).astype(np.int64)
    return Drawn(camp_id="A", place=names, group=trial.group, starts=days, as_drawn=began)


def link_of(trial: Trial, kept: int | None = None):
    return staggered_link(trial, drawn_of(trial, kept), "exit_speed", "l")


def test_what_is_planted_is_found_and_told() -> None:
    result = link_of(trial_of(4))
    assert (result.verdict, result.reason) == ("estimated", "")
    assert result.low <= 0.25 <= result.high
    assert 0.0 < result.low < result.per_kg < result.high < 0.45
    assert result.kg_per_week == pytest.approx(0.30, abs=0.03)
    assert (result.chance, result.chance_mass) == (0.0005, 0.0005)
    assert (result.n_athletes, result.n_sessions, result.n_groups, result.smallest_group) == (48, 432, 2, 24)
    assert result.n_as_drawn == 48


def with_spurts(rng: np.random.Generator, trial: Trial) -> Trial:
    """Each athlete grows at a time of their own: 2 kg and 3 mph come together in four weeks, neither by the other."""
    begin = rng.uniform(0.0, 12.0, len(trial.group))[trial.place]
    part = np.clip((trial.weeks - begin) / 4.0, 0.0, 1.0)
    return replace(trial, mass=trial.mass + 2.0 * part, value=trial.value + 3.0 * part)


def section_four(trial: Trial) -> float | None:
    """What the link without a draw says of the same camp; None where it refuses."""
    frames = frames_of(trial, STARTS)
    people = pd.DataFrame({
        "athlete_id": frames["plans"]["athlete_id"], "birth_date": pd.Timestamp(2016, 1, 1), "sex": "male",
        "sport": "baseball",
    })  # fmt: skip
    kg = frames["mass"]["smoothed_kg"]
    mass = frames["mass"].assign(athlete_id=frames["mass"]["stay_id"], kg=kg, kg_se=0.2, smoothed_se=0.2)
    links = mass_links(frames["sessions"], mass, people, MEASURES, STRENGTH)
    (one,) = (k for k in links if (k.scope, k.adjustment) == ("program", "time"))
    return one.per_kg


def test_growth_that_brings_mass_and_output_together_is_not_read_as_what_mass_brings() -> None:
    result, without_draw = [], []
    truth = replace(CLEAR, per_kg=0.0, drift=(0.05, 0.10), gain=(0.30, 0.15))
    for seed in range(12):
        rng = np.random.default_rng((914_203, seed))
        trial = with_spurts(rng, drawn_trial(rng, 60, STARTS, TESTS, truth))
        result.append(estimate_of(contrast(trial)).per_kg)
        without_draw.append(section_four(trial))
    assert abs(np.mean(result)) < 3.0 * np.std(result, ddof=1) / np.sqrt(len(result)) < 0.4
    assert without_draw == [None] * 12  # refused: without the draw nothing tells growth from mass


@pytest.mark.slow
def test_the_interval_spans_zero_where_the_test_does_not_reject_and_only_there() -> None:
    for seed in range(40):
        one = estimate_of(contrast(trial_of(100 + seed, 20, Truth(per_kg=0.4, noise=0.8))))
        assert (one.low <= 0.0 <= one.high) == (one.chance_output > 0.05)
        assert np.isfinite([one.low, one.high]).all() == (one.chance_mass <= 0.05)
        assert one.low <= one.per_kg <= one.high


def test_the_interval_holds_what_the_draw_does_not_speak_against() -> None:
    """Each value of it by itself, from the definition."""
    observed = contrast(trial_of(5, 24, Truth(noise=0.8, per_kg=0.4)))
    one = estimate_of(observed)

    def chance(b: float) -> float:
        left = np.abs(observed.others[:, 0] - b * observed.others[:, 1])
        return (1 + np.sum(left >= abs(observed.drawn[0] - b * observed.drawn[1]))) / 2000

    step = 1e-6 * (one.high - one.low)
    assert chance(one.high - step) > 0.05 >= chance(one.high + step)
    assert chance(one.low + step) > 0.05 >= chance(one.low - step)


def test_other_units_of_output_scale_it_and_a_level_of_time_does_not_matter() -> None:
    trial = trial_of(6)
    plain = estimate_of(contrast(trial))
    scaled = estimate_of(contrast(replace(trial, value=2.0 * trial.value)))
    moved = estimate_of(contrast(replace(trial, value=trial.value + 0.7 * trial.weeks + (trial.weeks > 3.0))))
    assert scaled.per_kg == pytest.approx(2.0 * plain.per_kg, rel=1e-4)
    assert (scaled.low, scaled.high) == pytest.approx((2.0 * plain.low, 2.0 * plain.high), rel=1e-4)
    assert (moved.per_kg, moved.low, moved.high) == pytest.approx(
        (plain.per_kg, plain.low, plain.high), rel=1e-4
    )


def test_a_session_without_mass_or_value_and_a_single_test_are_left_out() -> None:
    trial = trial_of(7, 16)
    value, mass = trial.value.copy(), trial.mass.copy()
    value[0], mass[1], value[10:18] = np.nan, np.nan, np.nan  # of the second athlete one test is left
    kept = replace(trial, value=value, mass=mass).usable()
    assert len(kept.value) == 16 * 9 - 2 - 9
    assert set(kept.place.tolist()) == set(range(16)) - {1}


def test_refused_with_too_few_in_a_group() -> None:
    result = link_of(trial_of(8, 15))
    assert (result.verdict, result.per_kg, result.low, result.chance) == ("refused", None, None, None)
    assert (
        result.reason
        == "7 athletes of the smallest group have two tests and a body mass, 8 in each are needed"
    )
    assert link_of(trial_of(8, 16)).reason == ""


def test_refused_where_most_plans_began_on_other_days() -> None:
    trial = trial_of(9)
    assert link_of(trial, 23).reason == "only 23 of 48 plans began within a week of the day that was drawn"
    assert link_of(trial, 24).verdict == "estimated"


def test_refused_where_starts_did_not_move_mass() -> None:
    result = link_of(trial_of(10, truth=Truth(gain=(0.0, 0.0))))
    assert result.verdict == "refused"
    assert result.reason.startswith("groups that began later did not weigh clearly less")
    assert result.chance_mass > 0.05
    assert (result.per_kg, result.low, result.high, result.standard_error) == (None, None, None, None)


def test_refused_where_all_were_on_plan_for_equally_long_or_not_at_all() -> None:
    early = drawn_trial(np.random.default_rng(11), 20, (6.0, 8.0), (0.0, 2.0, 4.0), CLEAR)
    result = link_of(early)
    assert result.reason.startswith("tests were made only before the first start")
    assert result.verdict == "refused" and result.kg_per_week is None
    assert contrast(early) is None


def test_nobody_was_staggered() -> None:
    trial = trial_of(12)
    one = replace(drawn_of(trial), starts=np.array([23379]), group=np.zeros(48, dtype=np.int64))
    alike = replace(trial, group=one.group, since=trial.since[:, :1])
    assert "nobody was staggered" in staggered_link(alike, one, "exit_speed", "l").reason


def tables(trial: Trial, **change: pd.DataFrame):
    frames = frames_of(trial, STARTS) | change
    return staggered_links(frames["sessions"], frames["mass"], frames["draws"], frames["plans"], MEASURES)


def test_from_the_tables_of_the_warehouse_it_is_the_same_number() -> None:
    trial = trial_of(13)
    (result,) = tables(trial)
    direct = link_of(trial)
    assert (result.camp_id, result.measure, result.line) == ("A", "exit_speed", "l")
    assert (result.per_kg, result.low, result.high) == pytest.approx((direct.per_kg, direct.low, direct.high))
    assert (result.n_as_drawn, result.n_athletes) == (48, 48)


def test_an_erased_athlete_leaves_his_place_empty_and_the_others_theirs() -> None:
    trial = trial_of(14)
    draws = frames_of(trial, STARTS)["draws"].astype({"athlete_id": object})
    draws.loc[5, "athlete_id"] = None
    (result,) = tables(trial, draws=draws)
    without = trial._only(trial.place != 5)
    assert result.n_athletes == 47
    assert result.per_kg == pytest.approx(estimate_of(contrast(without)).per_kg)


def test_a_plan_counts_as_begun_as_drawn_within_a_week() -> None:
    trial = trial_of(15)
    plans = frames_of(trial, STARTS)["plans"]
    plans.loc[:9, "start_on"] += np.timedelta64(7, "D")
    plans.loc[10:19, "start_on"] -= np.timedelta64(8, "D")
    (result,) = tables(trial, plans=plans)
    (none,) = tables(trial, plans=plans.head(0))
    assert (result.n_as_drawn, result.verdict) == (38, "estimated")
    assert (none.n_as_drawn, none.verdict) == (0, "refused")


def test_a_camp_without_a_draw_has_no_number() -> None:
    trial = trial_of(16)
    other = frames_of(trial, STARTS)["draws"].assign(camp_id="B")
    assert tables(trial, draws=other) == ()
    assert tables(trial, draws=other.head(0)) == ()


def test_a_chance_is_never_nought() -> None:
    one = estimate_of(
        Contrast(drawn=np.array([9.0, 9.0]), others=np.zeros((1999, 2)), per_week=np.array([1.0, 1.0]))
    )
    assert (one.chance_output, one.chance_mass) == (1 / 2000, 1 / 2000)
