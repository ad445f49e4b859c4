"""Mutants of drawn plan starts: the draw, what it tells, its interval, the refusals, the power."""

from __future__ import annotations

from tests.mutations.run import Mutant, mutants

STATS = mutants(
    "drawn starts",
    (
        "every block drawn alike",
        "links/draw_order.py",
        'f"{seed}:{block}:{start}"',
        'f"{seed}:{start}"',
        "pipeline/stats/links/test_start_draw.py::test_blocks_are_drawn_apart_from_each_other",
    ),
    (
        "other draws regardless of blocks",
        "links/start_draw.py",
        "order = np.argsort(rng.random((times, n_blocks, n_starts)), axis=2)",
        "order = rng.integers(0, n_starts, (times, n_blocks, n_starts))",
        "pipeline/stats/links/test_start_draw.py::test_other_draws_are_those_other_seeds_may_give_each_as_often",
    ),
    (
        "the lightest first",
        "links/start_draw.py",
        "key=lambda pair: (-pair[0], pair[1])",
        "key=lambda pair: (pair[0], pair[1])",
        "pipeline/stats/links/test_start_draw.py::test_the_heaviest_stands_first_and_equal_ones_by_id",
    ),
    (
        "time left in output and mass",
        "links/staggered.py",
        "_weighted(fit, trial.stay, own, _without(fit, trial.stay, own, time, observed))",
        "_weighted(fit, trial.stay, own, observed)",
        "reference/links/test_staggered.py::test_what_a_week_on_plan_adds_is_generalised_least_squares_of_statsmodels",
    ),
    (
        "sessions not weighted by own level and slope",
        "links/staggered.py",
        "weighted = _weighted(fit, trial.stay, own, _without(fit, trial.stay, own, time, observed))",
        "weighted = _without(fit, trial.stay, own, time, observed)",
        "reference/links/test_staggered.py::test_what_a_week_on_plan_adds_is_generalised_least_squares_of_statsmodels",
    ),
    (
        "no own slope in the weights",
        "links/staggered.py",
        "own = np.column_stack([np.ones(len(trial.weeks)), trial.weeks / SLOPE_WEEKS])",
        "own = np.ones((len(trial.weeks), 1))",
        "reference/links/test_staggered.py::test_what_a_week_on_plan_adds_is_generalised_least_squares_of_statsmodels",
    ),
    (
        "starts not centred on what all draws give",
        "links/staggered.py",
        "    scores -= scores.mean(axis=1, keepdims=True)\n",
        "",
        "reference/links/test_staggered.py::test_chances_are_those_of_every_possible_draw",
    ),
    (
        "chance on one side only",
        "links/staggered.py",
        "_chance(np.abs(a) >= abs(output) * SAME)",
        "_chance(a >= abs(output) * SAME)",
        "reference/links/test_staggered.py::test_chances_are_those_of_every_possible_draw",
    ),
    (
        "a chance may be nought",
        "links/staggered.py",
        "float((1 + as_far.sum()) / (1 + len(as_far)))",
        "float(as_far.sum() / len(as_far))",
        "pipeline/stats/links/test_staggered.py::test_a_chance_is_never_nought",
    ),
    (
        "interval of 90 % given as of 95 %",
        "links/staggered.py",
        "share = 1.0 - level",
        "share = 2.0 * (1.0 - level)",
        "pipeline/stats/links/test_staggered.py::test_the_interval_spans_zero_where_the_test_does_not_reject_and_only_there",
    ),
    (
        "interval not open where mass was not told",
        "links/staggered.py",
        "open_ = np.abs(c) >= abs(mass) * SAME",
        "open_ = np.abs(c) < 0.0",
        "pipeline/stats/links/test_staggered.py::test_refused_where_starts_did_not_move_mass",
    ),
    (
        "a single test of a stay counts",
        "links/staggered.py",
        "group_counts(kept.stay) >= 2",
        "group_counts(kept.stay) >= 1",
        "pipeline/stats/links/test_staggered.py::test_a_session_without_mass_or_value_and_a_single_test_are_left_out",
    ),
    (
        "small groups not refused",
        "links/staggered_camps.py",
        "if sizes.min() < FEWEST_IN_GROUP:",
        "if False:",
        "pipeline/stats/links/test_staggered.py::test_refused_with_too_few_in_a_group",
    ),
    (
        "plans begun on other days not refused",
        "links/staggered_camps.py",
        "if kept < LEAST_AS_DRAWN * sizes.sum():",
        "if False:",
        "pipeline/stats/links/test_staggered.py::test_refused_where_most_plans_began_on_other_days",
    ),
    (
        "a number given although groups weigh alike",
        "links/staggered_camps.py",
        "if number is not None and not np.isfinite([number.low, number.high]).all():",
        "if False:",
        "pipeline/stats/links/test_staggered.py::test_refused_where_starts_did_not_move_mass",
    ),
    (
        "tests before the first start alone not refused",
        "links/staggered.py",
        "if drawn[2] < 1e-9 * max(len(trial.place), 1):",
        "if drawn[2] < -1.0:",
        "pipeline/stats/links/test_staggered.py::test_refused_where_all_were_on_plan_for_equally_long_or_not_at_all",
    ),
    (
        "design: weeks on plan not held against those of the other groups",
        "links/staggered_design.py",
        "    d = d - d.mean(axis=0)\n",
        "",
        "reference/links/test_staggered.py::test_standard_error_is_that_of_the_stepped_wedge",
    ),
    (
        "design: scatter of output without own level and slope",
        "links/staggered_design.py",
        "np.asarray(z @ self.own @ z.T + self.noise**2 * np.eye(len(weeks)))",
        "np.asarray(self.noise**2 * np.eye(len(weeks)))",
        "reference/links/test_staggered.py::test_with_own_slopes_the_standard_error_is_that_of_statsmodels",
    ),
    (
        "design: power without the chance that mass is told",
        "links/staggered_design.py",
        "power=output * mass,",
        "power=output,",
        "pipeline/stats/links/test_staggered_design.py::"
        "test_without_anything_to_tell_the_power_is_the_level_times_the_chance_that_mass_is_told",
    ),
    (
        "design: limit of one side",
        "links/staggered_design.py",
        "stats.t.ppf(0.5 + LEVEL / 2.0, degrees)",
        "stats.t.ppf(LEVEL, degrees)",
        "reference/links/test_staggered.py::test_power_is_that_of_the_stepped_wedge_with_a_crossing_from_nought_to_one",
    ),
    (
        "design: small groups not refused",
        "links/staggered_design.py",
        "if n_athletes < FEWEST_IN_GROUP * len(starts):",
        "if False:",
        "pipeline/stats/links/test_staggered_design.py::test_what_does_not_fit_is_named",
    ),
    (
        "Fieller: covariance of the two left out",
        "engine/fieller.py",
        "b = above * below - square * both",
        "b = above * below",
        "reference/engine/test_fieller.py"
        "::test_limits_are_where_the_numerator_is_just_told_from_ratio_times_denominator",
    ),
)
FOLDER = [
    Mutant(
        question="drawn starts",
        wrong=wrong,
        file=f"ingest/{file}",
        old=old,
        new=new,
        tests=f"end_to_end/test_drawn_starts.py::{test}",
    )
    for wrong, file, old, new, test in (
        (
            "a camp drawn twice",
            "logs/start_draws.py",
            "if any(one[\"draw\"] == draw.camp_id for one in logged(root)):",
            "if False:",
            "test_a_draw_is_printed_kept_and_made_once",
        ),
        (
            "a draw after the first start",
            "logs/start_draws.py",
            "if min(draw.starts) < program.today():",
            "if False:",
            "test_a_first_start_that_is_today_may_still_be_drawn",
        ),
        (
            "an erased athlete's place closed up",
            "logs/start_draws.py",
            "[ERASED if one == athlete_id else one for one in record[\"athletes\"]]",
            "[one for one in record[\"athletes\"] if one != athlete_id]",
            "test_an_erased_athlete_leaves_the_draw_and_the_others_keep_their_starts",
        ),
        (
            "the youngest drawn too",
            "plans/start_design.py",
            "if pd.isna(born) or (first - pd.Timestamp(born)).days / YEAR < youngest:",
            "if pd.isna(born):",
            "test_a_design_is_told_and_nothing_is_written",
        ),
        (
            "those left out by name drawn too",
            "plans/start_design.py",
            "if row[\"athlete_id\"] in ask.leave_out:",
            "if False:",
            "test_a_design_is_told_and_nothing_is_written",
        ),
        (
            "a draw does not call for a build",
            "inputs.py",
            "            *map(repr, self.draws),\n",
            "",
            "test_a_draw_made_or_changed_calls_for_a_build",
        ),
    )
]  # fmt: skip
DRAWN_STARTS = [*STATS, *FOLDER]
