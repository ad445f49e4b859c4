"""Mutants of what is told about several camps together."""

from __future__ import annotations

from tests.mutations.run import mutants

CAMPS_APART = mutants(
    "do camps differ",
    (
        "pairs judged one by one: no allowance for how many there are",
        "engine/pairwise.py",
        "half = float(qsturng(level, len(y), freedom)) * error",
        "half = float(qsturng(level, 2, freedom)) * error",
        "reference/engine/test_pairwise.py",
    ),
    (
        "a shared offset counted in each camp of a pair",
        "engine/pairwise.py",
        "offsets = float(((common[i] - common[j]) ** 2).sum())",
        "offsets = float((common[i] ** 2 + common[j] ** 2).sum())",
        "reference/engine/test_pairwise.py::test_an_offset_that_moves_two_alike_drops_out_of_their_difference",
    ),
    (
        "errors of few athletes taken as known",
        "engine/pairwise.py",
        "freedom, off = max(FEWEST_DEGREES, float(welch)), float(y[i] - y[j])",
        "freedom, off = 1e6, float(y[i] - y[j])",
        "reference/engine/test_pairwise.py",
    ),
    (
        "spread where Q equals the number of camps",
        "engine/heterogeneity.py",
        "return float(k - 1 if chance",
        "return float(k if chance",
        "reference/engine/test_heterogeneity.py",
    ),
    (
        "spread judged as if errors learned from few athletes were known",
        "engine/heterogeneity.py",
        "return known if degrees is None else learned",
        "return known",
        "reference/engine/test_heterogeneity.py::test_errors_learned_from_few_are_judged_as_welch_does",
    ),
    (
        "a new camp as sure as the mean of all",
        "engine/heterogeneity.py",
        "np.sqrt(variance[0] + mean_variance)",
        "np.sqrt(mean_variance)",
        "reference/engine/test_heterogeneity.py::test_every_number_is_that_of_metafor",
    ),
    (
        "shared errors left out of Q",
        "engine/heterogeneity.py",
        "weight = np.linalg.inv(errors + variance * np.eye(len(y)))",
        "weight = np.linalg.inv(np.diag(np.diag(errors)) + variance * np.eye(len(y)))",
        "reference/engine/test_heterogeneity.py::test_errors_that_are_shared_enter_q_and_mean_as_in_metafor",
    ),
    (
        "camps compared each over its own length",
        "change/camps_apart.py",
        "gains, own = np.array([camp.model.gain(weeks) for camp in kept]).T",
        "gains, own = np.array([camp.model.gain(camp.weeks) for camp in kept]).T",
        "pipeline/stats/change/test_camps_apart.py::test_camps_are_compared_over_the_shortest_of_their_lengths",
    ),
    (
        "a camp that has only begun shortens the comparison for all",
        "change/camps_apart.py",
        "BRIEF = 0.5",
        "BRIEF = 0.0",
        "pipeline/stats/change/test_camps_apart.py::test_a_camp_seen_briefly_is_left_out_and_said",
    ),
    (
        "offsets that camps share left out of their covariance",
        "change/camps_apart.py",
        "names = sorted({name for one in effects for name in one})",
        "names: list[str] = []",
        "pipeline/stats/change/test_camps_apart.py::test_an_offset_within_one_camp_widens_its_pairs_and_one_shared_by_both_does_not",
    ),
)
STAGES = mutants(
    "growth stage",
    (
        "an athlete counted among their own peers",
        "peers/stages.py",
        "np.arange(len(value)) != at",
        "np.arange(len(value)) >= 0",
        "pipeline/stats/peers/test_peer_stages.py::test_twenty_seven_of_thirty_eight_is_seventy_one",
    ),
    (
        "uncertain classes taken for a class",
        "peers/stages.py",
        "& (stage != UNCERTAIN)",
        "& True",
        "pipeline/stats/peers/test_peer_stages.py::test_equations_that_do_not_agree_refuse_the_stage_and_count_in_no_class",
    ),
    (
        "faster times counted as worse",
        "peers/stages.py",
        "value, noise = sign * pool",
        "value, noise = 1.0 * pool",
        "pipeline/stats/peers/test_peer_stages.py::test_ties_count_a_half_and_lower_is_better_is_turned",
    ),
    (
        "session noise left out",
        "peers/stages.py",
        "shift = 0.0 if np.isnan(noise) else noise / spread",
        "shift = 0.0",
        "pipeline/stats/peers/test_peer_stages.py::test_session_noise_widens_the_interval",
    ),
    (
        "stage given to grown athletes",
        "peers/stages.py",
        'return "" if band.offset is None else band.stage',
        "return band.stage",
        "pipeline/stats/peers/test_peer_stages.py::test_stage_is_given_only_where_an_equation_holds_and_older_athletes_are_no_peers_by_stage",
    ),
)
