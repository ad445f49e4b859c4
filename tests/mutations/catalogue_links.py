"""Mutants of what is said across athletes: links, accounts, peers, projections, camps, growth, strength."""

from __future__ import annotations

from tests.mutations.run import mutants

MASS_LINK = mutants(
    "mass link",
    (
        "the Mundlak term skipped: the stay's mean gain is not held constant",
        "links/link_design.py",
        "        (usual - usual.mean())[:, None],\n",
        "",
        "pipeline/stats/engine/test_closed_forms.py::test_columns_of_the_link_hold_the_stays_mean_gain_beside_the_own_gain",
    ),
    (
        "time in the program left out",
        "links/mass_link.py",
        "return rows, time_columns(form, rows.weeks), none\n    part",
        "return rows, none, none\n    part",
        "pipeline/stats/links/test_link.py::test_same_answer_as_statsmodels_on_one_camp",
    ),
    (
        "no intake term",
        "links/link_design.py",
        "        rows.intake[:, None],\n",
        "",
        "pipeline/stats/engine/test_closed_forms.py::test_columns_of_the_link_hold_the_stays_mean_gain_beside_the_own_gain",
    ),
    (
        "cluster-robust standard error dropped",
        "links/mass_link.py",
        "error = float(np.hypot(max(by_model, by_cluster), ",
        "error = float(np.hypot(by_model, ",
        "pipeline/stats/links/test_link_clusters.py::test_clusters_themselves_widen_and_not_only_the_count_of_athletes",
    ),
    (
        "correction for few athletes dropped",
        "links/mass_link.py",
        "by_cluster = clusters.standard_error",
        "by_cluster = plain",
        "pipeline/stats/engine/test_closed_forms.py::test_error_of_the_link_is_the_clusters_with_its_correction_for_few_athletes",
    ),
    (
        "no refusal where mass and time rose together",
        "links/mass_link.py",
        "if design is not None and not says_enough(design):",
        "if False:",
        "pipeline/stats/links/test_link.py::test_a_camp_that_gains_in_a_straight_line_is_refused",
    ),
    (
        "own line of mass not held beside own mass",
        "links/link_design.py",
        "        own_line_columns(rows, others, gained),\n",
        "",
        "reference/engine/test_own_line_link.py::test_slope_is_that_of_fixed_effects_with_individual_slopes",
    ),
)
ATHLETES_LINK = mutants(
    "athlete's link",
    (
        "error of the mass change left out of what is expected",
        "links/link_athletes.py",
        "variance = (link.per_kg * mass_se) ** 2 + (mass * error) ** 2 + (mass_se * error) ** 2",
        "variance = (mass * error) ** 2",
        "pipeline/stats/links/test_link_athletes.py::test_intervals_combine_both_uncertainties",
    ),
    (
        "what is unexplained as sure as what was observed",
        "change/difference.py",
        "low=change - hypot(second.value - second.low, first.high - first.value)",
        "low=change - hypot(second.value - second.low)",
        "pipeline/stats/links/test_link_athletes.py::test_intervals_combine_both_uncertainties",
    ),
)
ACCOUNT = mutants(
    "account",
    (
        "unexplained keeps the mass in it",
        "links/account.py",
        "left = total - sum(part.amount for part in parts.values())",
        'left = total - sum(part.amount for name, part in parts.items() if name != "mass")',
        "pipeline/stats/links/test_account.py::test_rows_add_up_to_the_last_bit",
    ),
    (
        "noise shared with the coefficients not pulled by shrinkage",
        "links/account_fit.py",
        "left = own - np.array([0.0, course_weight]) @ pull @ zx",
        "left = own",
        "pipeline/stats/links/test_account.py::test_noise_shared_with_the_coefficients_is_that_of_the_written_out_model",
    ),
)
PEERS = mutants(
    "peers",
    (
        "leverage left out of how sure a percentile is",
        "peers/weights.py",
        "shift = np.hypot(np.sqrt(leverage / (1.0 - leverage)), np.sqrt(extra) / spread)",
        "shift = np.sqrt(extra) / spread",
        "pipeline/stats/engine/test_closed_forms.py::test_a_percentile_at_the_edge_is_as_unsure_as_the_mean_there",
    ),
    (
        "leverage left out of the athlete's own residual",
        "peers/weights.py",
        "own = np.asarray(left / (1.0 - leverage), dtype=float)",
        "own = np.asarray(left, dtype=float)",
        "pipeline/stats/engine/test_closed_forms.py::test_an_athletes_residual_is_off_the_mean_of_the_others_alone",
    ),
    (
        "the athlete their own peer",
        "peers/weights.py",
        "        weights[np.arange(rows.size), rows] = 0.0\n",
        "",
        "pipeline/stats/peers/test_peers.py::test_neighbours_are_the_thirty_nearest_and_never_oneself",
    ),
    (
        "height and mass as if they were not correlated",
        "peers/weights.py",
        "turned: Floats = centred @ vectors * scale",
        "turned: Floats = centred / centred.std(axis=0, ddof=1)",
        "reference/peers/test_ais_peers.py",
    ),
    (
        "a smaller time read as a lower percentile",
        "peers/standing.py",
        'value = measures[key].gain(0.0, 1.0) * pool["value"].to_numpy(float)',
        'value = pool["value"].to_numpy(float)',
        "pipeline/stats/peers/test_peers.py::test_lower_is_better_turns_the_percentile_round",
    ),
    (
        "own day-to-day noise left out",
        "peers/weights.py",
        "extra = apart if noise is None else apart + noise**2",
        "extra = apart",
        "pipeline/stats/peers/test_peers.py::test_interval_holds_the_athletes_own_noise",
    ),
)
PROJECTION = mutants(
    "projection",
    (
        "interval for the athlete's mean, not for a new session",
        "projection/fit.py",
        "mean, variance = self.fit.predict_many(list(stays), x[:, self.kept], z, new_session=new_session)",
        "mean, variance = self.fit.predict_many(list(stays), x[:, self.kept], z, new_session=False)",
        "pipeline/stats/engine/test_closed_forms.py::test_a_projection_is_for_a_new_session_and_holds_its_noise",
    ),
    (
        "score that does not punish distance",
        "projection/fit.py",
        "return np.asarray(sd * (z * (2.0 * stats.norm.cdf(z) - 1.0) + 2.0 * density - 1.0 / np.sqrt(np.pi)))",
        "return np.asarray(sd * (2.0 * density - 1.0 / np.sqrt(np.pi)))",
        "pipeline/stats/projection/test_projection.py::test_crps_is_the_integral_it_stands_for",
    ),
    (
        "last value never preferred",
        "projection/fit.py",
        "form = min(scores, key=lambda f: scores[f])",
        "form = min((f for f in scores if f != LAST_VALUE), key=lambda f: scores[f])",
        "pipeline/stats/projection/test_projection.py::test_last_value_is_used_where_it_foretells_better",
    ),
    (
        "error of the link left out at a target mass",
        "projection/mass.py",
        "variance = (link.per_kg * error) ** 2 + (ahead * slope_error) ** 2 + (error * slope_error) ** 2",
        "variance = (link.per_kg * error) ** 2",
        "pipeline/stats/projection/test_projection.py::test_value_at_the_target_mass_moves_by_the_link",
    ),
    (
        "target mass shown where the link may be zero",
        "projection/mass.py",
        'if link.verdict != "estimated":',
        "if False:",
        "pipeline/stats/projection/test_projection.py::test_a_mass_is_refused_where_the_link_or_the_record_does_not_carry_it",
    ),
)
CAMPS = mutants(
    "camps",
    (
        "no intake term: a day of travel reads as gain",
        "engine/line_models.py",
        "intake_term = often_tested(frame, 3) >= FEWEST_STAYS and _independent(frame, (course.scale,), True)",
        "intake_term = False",
        "pipeline/stats/change/test_cohort.py::test_the_gain_is_that_of_the_mixed_model_of_statsmodels",
    ),
    (
        "Paule-Mandel with one degree of freedom too many",
        "engine/multiplicity.py",
        "return float((weight * (estimate - mean) ** 2).sum()) - (len(estimate) - 1)",
        "return float((weight * (estimate - mean) ** 2).sum()) - len(estimate)",
        "pipeline/stats/change/test_cohort.py::test_paule_mandel_is_what_statsmodels_finds",
    ),
    (
        "shrinkage turned round",
        "engine/multiplicity.py",
        "shrunk = pull * mean + (1.0 - pull) * estimate",
        "shrunk = (1.0 - pull) * mean + pull * estimate",
        "pipeline/stats/engine/test_closed_forms.py::test_two_camps_are_pulled_towards_each_other_by_the_share_of_noise",
    ),
    (
        "shrunk gain as if the spread between camps were known",
        "engine/multiplicity.py",
        "return np.asarray(chance @ (own + (middle - shrunk) ** 2) / chance.sum(), dtype=float)",
        "return np.asarray(own[int(np.argmax(chance))], dtype=float)",
        "pipeline/stats/change/test_cohort.py::test_interval_of_a_shrunk_gain_counts_that_the_spread_is_not_known",
    ),
    (
        "error of a bridge's offset not counted",
        "change/camp_gains.py",
        "variance += bridge_variance(camp, model, weeks)",
        "variance += 0.0 * bridge_variance(camp, model, weeks)",
        "pipeline/stats/change/test_cohort.py::test_a_camp_that_changed_its_device_counts_the_error_of_the_offset",
    ),
    (
        "forms of time averaged as if they agreed",
        "engine/line_models.py",
        "return mean, self.weights @ (variances + (means - mean) ** 2)",
        "return mean, self.weights @ variances",
        "pipeline/stats/engine/test_closed_forms.py::test_forms_of_time_that_disagree_widen_what_is_averaged_over_them",
    ),
    (
        "every p-value below the rate kept",
        "engine/multiplicity.py",
        "below = ordered[ordered <= rate * (np.arange(1, len(given) + 1) / len(given))]",
        "below = ordered[ordered <= rate]",
        "reference/engine/test_benjamini_hochberg.py",
    ),
)
GROWTH_STRENGTH_MATURITY = mutants(
    "growth, strength, maturity",
    (
        "row of the month before",
        "growth/cdc.py",
        "return LAST_ROW if months == OLDEST_MONTHS else months + 0.5",
        "return LAST_ROW if months == OLDEST_MONTHS else months - 0.5",
        "reference/peers/test_cdc.py::test_worked_scores",
    ),
    (
        "interval of growth blind to the error of height",
        "growth/shares.py",
        "variances = np.array([*ends.variances, *mass[:, 1] ** 2])",
        "variances = np.array([0.0, 0.0, *mass[:, 1] ** 2])",
        "pipeline/stats/growth/test_growth_shares.py::test_intervals_are_those_of_repeated_measurement",
    ),
    (
        "mass over height not counted a hundredfold",
        "growth/maturity.py",
        "+ 0.02292 * 100.0 * mass / height",
        "+ 0.02292 * mass / height",
        "reference/peers/test_maturity.py::test_boys",
    ),
    (
        "a single lift run through the formula",
        "links/strength.py",
        "return np.where(counts == 1.0, loads, estimate(loads, counts))",
        "return estimate(loads, counts)",
        "reference/links/test_one_rep_max.py::test_single_is_the_load_whatever_the_formula_says",
    ),
    (
        "strength divided by body mass itself",
        "links/strength.py",
        "FORCE_EXPONENT: Final = 2.0 / 3.0",
        "FORCE_EXPONENT: Final = 1.0",
        "reference/links/test_allometry.py",
    ),
)

LINK_MUTANTS = [*MASS_LINK, *ATHLETES_LINK, *ACCOUNT, *PEERS, *PROJECTION, *CAMPS, *GROWTH_STRENGTH_MATURITY]
