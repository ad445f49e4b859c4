"""The mutants, question by question; each names the test that is there to see it."""

from __future__ import annotations

from tests.mutations.catalogue_camps import CAMPS_APART, STAGES
from tests.mutations.catalogue_drawn import DRAWN_STARTS
from tests.mutations.catalogue_links import LINK_MUTANTS
from tests.mutations.catalogue_movement import MOVEMENT
from tests.mutations.catalogue_pooled import LINKS_OVER_CAMPS
from tests.mutations.run import mutants

ENGINE = mutants(
    "engine",
    (
        "variance of the fixed effects dropped from the interval of an athlete's size",
        "engine/mixed.py",
        "return mean, self.fixed_variance(left) + own",
        "return mean, own",
        "pipeline/stats/engine/test_mixed.py::test_predictions_are_those_of_the_dense_model",
    ),
    (
        "fixed effects not offset by what shrinkage takes off an athlete",
        "engine/mixed.py",
        'left = xs - np.einsum("kb,kbp->kp", weight, self.sums.zx_original(rows))',
        "left = xs",
        "pipeline/stats/engine/test_mixed.py::test_predictions_are_those_of_the_dense_model",
    ),
    (
        "maximum likelihood in place of REML",
        "engine/mixed.py",
        "        + float(log_fixed)\n",
        "",
        "pipeline/stats/engine/test_mixed.py::test_fixed_effects_and_criterion_are_those_of_the_dense_model",
    ),
    (
        "the penalty left out",
        "engine/mixed.py",
        "value -= 2.0 * float(np.log(diagonal).sum())\n"
        "        gradient[np.diag_indices_from(gradient)] -= 2.0 / diagonal",
        "pass",
        "pipeline/stats/engine/test_mixed.py::test_the_penalty_is_twice_the_logarithms_of_the_diagonal",
    ),
    (
        "many fits at once: the penalty left out",
        "engine/mixed_search.py",
        "value = value - 2.0 * (points[..., 0] + points[..., 2])\n"
        "    slope = np.where(_LOG, by_factor * factor - 2.0, by_factor)",
        "slope = np.where(_LOG, by_factor * factor, by_factor)",
        "pipeline/stats/engine/test_mixed.py::test_the_fit_stands_where_the_penalised_criterion_is_flat",
    ),
    (
        "two stays of an athlete counted as two athletes",
        "engine/mixed.py",
        "if owner is not None:",
        "if False:",
        "pipeline/stats/engine/test_mixed.py::test_groups_of_one_owner_count_as_one_in_the_robust_covariance",
    ),
    (
        "scores of the robust covariance not taken through the random effects",
        "engine/mixed.py",
        'score = noise_x - np.einsum("gqp,gqr,gr->gp", s.zx, self.pull, noise_z)',
        "score = noise_x",
        "pipeline/stats/engine/test_mixed.py::test_robust_covariance_is_the_sandwich_of_the_dense_model",
    ),
    (
        "small camps: spread of the draws' means left out",
        "engine/mixed_integrated.py",
        "return mean, self.weights @ (variances + (means - mean) ** 2)",
        "return mean, self.weights @ variances",
        "pipeline/stats/engine/test_closed_forms.py::test_a_small_camps_variance_is_that_within_the_draws_and_that_between_them",
    ),
)
MEASUREMENT_ERROR = mutants(
    "measurement error",
    (
        "typical error of few repeats not shrunk",
        "change/reliability.py",
        "return (own.variance * own.degrees + variance * PRIOR_DEGREES) / total, total, SHRUNK",
        "return own.variance, own.degrees, SHRUNK",
        "pipeline/stats/change/test_reliability.py::test_few_repeats_are_pulled_to_the_catalogue",
    ),
    (
        "two baseline days: the root of two forgotten",
        "change/reliability.py",
        "return float(differences.var(ddof=1)) / 2.0, float(len(differences) - 1), REPEATS",
        "return float(differences.var(ddof=1)), float(len(differences) - 1), REPEATS",
        "pipeline/stats/change/test_reliability.py::test_two_baseline_days_alone_give_an_error_without_the_learning",
    ),
    (
        "noise left in the spread between athletes",
        "change/reliability.py",
        'between = float((off**2).sum()) / degrees - noise * float((1.0 / latest["size"])[several].mean())',
        "between = float((off**2).sum()) / degrees",
        "pipeline/stats/engine/test_closed_forms.py::test_spread_between_athletes_has_the_noise_of_their_means_taken_out",
    ),
    (
        "minimal change against one session whatever the baseline",
        "change/reliability_formulas.py",
        "return float(quantile * error * np.sqrt(1.0 + 1.0 / baseline_sessions))",
        "return float(quantile * error * np.sqrt(2.0))",
        "reference/change/test_weir.py",
    ),
    (
        "intraclass correlation blind to drift between trials",
        "change/reliability_formulas.py",
        "two_way_random=(m.subjects - m.error) / (m.subjects + (k - 1) * m.error + k * drift),",
        "two_way_random=(m.subjects - m.error) / (m.subjects + (k - 1) * m.error),",
        "reference/change/test_shrout_fleiss.py",
    ),
)
TREND = mutants(
    "trend",
    (
        "own-line test: the pooled variance forgotten",
        "engine/own_lines.py",
        "variance = np.full(len(lines.n), noise.variance)",
        "variance = lines.residual / np.maximum(lines.degrees, 1.0)",
        "pipeline/stats/change/test_trend.py::test_a_shared_noise_gives_the_interval_of_one_regression_with_a_line_each",
    ),
    (
        "where athletes differ: own noise not pulled to the camp's",
        "engine/own_lines.py",
        "variance = (prior_sum + lines.residual) / total",
        "variance = lines.residual / np.maximum(lines.degrees, 1.0)",
        "pipeline/stats/engine/test_closed_forms.py::test_noise_of_one_stay_stands_between_its_own_and_the_camps",
    ),
    (
        "no intake term: the first day counts as it was",
        "engine/own_lines.py",
        "slope = pieces.slope - effect * pieces.intake_slope",
        "slope = pieces.slope",
        "pipeline/stats/change/test_trend.py::test_the_intake_effect_is_that_of_one_regression_with_a_common_intake_term",
    ),
    (
        "what other camps lack on the first day left out",
        "engine/intake_prior.py",
        "return mean * noise, sd",
        "return 0.0, sd",
        "pipeline/stats/engine/test_intake_held.py::test_a_camp_tested_once_learns_from_the_camps_that_were_tested_twice",
    ),
    (
        "first day: the spread between camps left out",
        "engine/intake_prior.py",
        "spread = chance @ (SPREADS**2 + 1.0 / total",
        "spread = chance @ (1.0 / total",
        "pipeline/stats/engine/test_intake_held.py::test_one_camp_says_what_it_says_and_three_that_agree_say_more",
    ),
    (
        "the prior of the first day near zero whatever it says",
        "engine/line_models.py",
        "np.append(values, own.intake_mean / own.intake_sd)",
        "np.append(values, 0.0)",
        "pipeline/stats/engine/test_intake_held.py::test_a_camp_tested_once_learns_from_the_camps_that_were_tested_twice",
    ),
    (
        "sizes from two sessions each",
        "engine/line_models.py",
        "fewest = 3 if for_size else 2",
        "fewest = 2",
        "pipeline/stats/change/test_trend.py::test_two_sessions_each_give_no_size",
    ),
    (
        "copied values taken as repeats",
        "change/reliability.py",
        "if degrees < 1.0 or variance < COPIES * smallest:",
        "if degrees < 1.0:",
        "pipeline/stats/change/test_reliability.py::test_values_that_are_all_the_same_say_nothing_about_the_error",
    ),
    (
        "error of the intake effect not counted",
        "engine/own_lines.py",
        "slope_variance = 1.0 / pieces.sxx + relative * pieces.intake_slope**2",
        "slope_variance = 1.0 / pieces.sxx",
        "pipeline/stats/change/test_trend.py::test_the_intake_effect_is_that_of_one_regression_with_a_common_intake_term",
    ),
    (
        "error of a bridge's offset not counted",
        "change/trend.py",
        "of_slope = variance * lines.slope_variance + lines.bridge_slope**2",
        "of_slope = variance * lines.slope_variance",
        "pipeline/stats/change/test_trend.py::test_a_stay_on_two_devices_carries_the_error_of_the_offset",
    ),
    (
        "lower is better read as higher is better",
        "change/verdict.py",
        'return ("clear gain" if up == (better is Better.HIGHER) else "clear loss"), ""',
        'return ("clear gain" if up else "clear loss"), ""',
        "pipeline/stats/change/test_trend.py::test_verdicts",
    ),
    (
        "chance of better turned round for times",
        "change/verdict.py",
        "return float(special.ndtr(z if better is Better.HIGHER else -z))",
        "return float(special.ndtr(z))",
        "pipeline/stats/change/test_trend.py::test_a_faster_split_is_a_gain",
    ),
    (
        "as if a look were the only one",
        "change/verdict.py",
        "spent = [FALSE_RATE * ((k + 1.0) / len(looks)) ** POWER for k in range(len(looks))]",
        "spent = [FALSE_RATE for k in range(len(looks))]",
        "pipeline/stats/engine/test_closed_forms.py::test_the_first_look_spends_its_part_of_the_error_rate",
    ),
)
BODY_MASS = mutants(
    "body mass",
    (
        "water that does not carry over to the next day",
        "engine/kalman.py",
        "    out[WATER] = terms.persistence * x[WATER]\n    out[PAST:] = x[PAST:]\n    return out\n\n\ndef _carry_back",
        "    out[WATER] = 0.0 * x[WATER]\n    out[PAST:] = x[PAST:]\n    return out\n\n\ndef _carry_back",
        "pipeline/stats/plans/test_weighin.py::test_filter_and_smoother_agree_with_statsmodels",
    ),
    (
        "rate that never fades in a forecast",
        "engine/kalman.py",
        "reach = STEP * (1.0 - DAMPING ** np.arange(int(days.max(initial=0)) + 1)) / (1.0 - DAMPING)",
        "reach = STEP * np.arange(int(days.max(initial=0)) + 1)",
        "pipeline/stats/plans/test_weighin.py::test_forecast_is_the_filter_run_on_without_weighins",
    ),
    (
        "forecast as sure as today",
        "engine/kalman.py",
        "variance = cov[:, 0, 0] + 2.0 * along * cov[:, 0, 1] + along**2 * cov[:, 1, 1] + added",
        "variance = cov[:, 0, 0]",
        "pipeline/stats/plans/test_weighin.py::test_forecast_is_the_filter_run_on_without_weighins",
    ),
    (
        "weigh-ins far from a gain's course set aside although they lie on its line",
        "plans/screening.py",
        "far[suspects] = off_line & ~_in_run(stay, kg, middle)[suspects]",
        "far[suspects] = True",
        "pipeline/stats/plans/test_weighin.py::test_slow_gain_of_a_fifth_passes",
    ),
)
WEIGHT_PLAN = mutants(
    "weight plan",
    (
        "chance of the target turned round",
        "plans/rules.py",
        "return np.asarray(norm.sf(limit, loc=mean, scale=se), dtype=float)",
        "return np.asarray(norm.cdf(limit, loc=mean, scale=se), dtype=float)",
        "pipeline/stats/plans/test_plan.py::test_chances_of_a_gain_that_is_too_fast",
    ),
    (
        "loss referred after everything else",
        "plans/rules.py",
        "    REFER,\n    NOT_ALLOWED,\n    TOO_FAST,\n    TOO_FEW,\n",
        "    NOT_ALLOWED,\n    TOO_FAST,\n    TOO_FEW,\n    REFER,\n",
        "pipeline/stats/plans/test_plan.py::test_loss_is_referred_before_anything_else "
        "pipeline/stats/plans/test_plan.py::test_first_status_that_holds",
    ),
    (
        "threshold of behind at .995: stalls found too late",
        "plans/rules.py",
        "behind_chance: float = 0.91",
        "behind_chance: float = 0.995",
        "pipeline/stats/plans/test_plan.py::test_threshold_of_behind_is_on_the_chance",
    ),
    (
        "children allowed a plan",
        "plans/rules.py",
        "youngest: float = 14.0",
        "youngest: float = 12.0",
        "pipeline/stats/plans/test_plan.py::test_plans_that_are_not_allowed",
    ),
)

MUTANTS = [
    *ENGINE,
    *MEASUREMENT_ERROR,
    *TREND,
    *BODY_MASS,
    *WEIGHT_PLAN,
    *LINK_MUTANTS,
    *LINKS_OVER_CAMPS,
    *DRAWN_STARTS,
    *CAMPS_APART,
    *STAGES,
    *MOVEMENT,
]
