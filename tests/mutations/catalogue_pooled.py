"""Mutants of links pooled over camps."""

from __future__ import annotations

from tests.mutations.run import mutants

LINKS_OVER_CAMPS = mutants(
    "links over camps",
    (
        "mean of camps with the errors as stated, not by their scatter",
        "engine/new_camp.py",
        "return mean, np.sqrt(q / (len(y) - 1) / total), q",
        "return mean, np.sqrt(1.0 / total), q",
        "reference/engine/test_new_camp.py::test_equal_errors_give_the_students_interval_of_the_mean",
    ),
    (
        "one more camp as if the spread between camps were the smallest that fits",
        "engine/new_camp.py",
        "drawn = np.interp(share, below, variances)",
        "drawn = 0.0 * np.interp(share, below, variances)",
        "reference/engine/test_new_camp.py::test_one_more_is_held_where_the_spread_must_be_learned_from_four",
    ),
    (
        "athletes of several camps counted as different people",
        "links/link_camps.py",
        "alike = (scores @ scores.T) / np.where(size > 0.0, np.outer(size, size), 1.0)",
        "alike = np.eye(len(camps))",
        "pipeline/stats/links/test_link_camps.py::test_what_two_camps_share_is_the_correlation_of_their_athletes_scores",
    ),
    (
        "an offset that camps share counted for each by itself",
        "links/link_camps.py",
        "return np.asarray(alike * np.outer(own, own) + offsets @ offsets.T)",
        "return np.asarray(alike * np.outer(own, own) + np.diag((offsets**2).sum(axis=1)))",
        "pipeline/stats/links/test_link_camps.py::test_an_offset_that_joins_two_camps_devices_is_shared",
    ),
    (
        "camps whose own link is refused pooled as if they showed nothing",
        "links/link_camps.py",
        "given = [k for k in estimate if k.per_kg is not None]",
        "given = [k for k in estimate if True]",
        "pipeline/stats/links/test_link_camps.py::test_fewer_than_three_camps_with_a_link_are_refused_and_one_camp_says_nothing",
    ),
)
