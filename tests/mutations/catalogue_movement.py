"""Mutants of the order of peaks: outcome, shares, changes, agreement."""

from __future__ import annotations

from tests.mutations.run import mutants

MOVEMENT = mutants(
    "order of peaks",
    (
        "no tie window",
        "movement/peak_order.py",
        "return TOGETHER if abs(lag) < tie_ms else IN if lag > 0 else OUT",
        "return IN if lag > 0 else OUT",
        "pipeline/stats/movement/test_peak_order.py::test_peaks_within_eight_milliseconds_are_together",
    ),
    (
        "a reversed sensor counted",
        "movement/peak_order.py",
        "        if waiting:\n",
        "        if False:\n",
        "pipeline/stats/movement/test_peak_order.py::test_no_verdict_of_any_kind_over_a_reversed_sensor",
    ),
    (
        "trials taken as independent",
        "movement/order_shares.py",
        "return max(1.0, (between / repeats) / (within / left))",
        "return 1.0",
        "pipeline/stats/movement/test_peak_order.py::test_the_design_effect_is_the_ratio_of_mean_squares",
    ),
    (
        "agreement without its correction for few values",
        "movement/order_agreement.py",
        "* (n - 1)\n",
        "* n\n",
        "reference/movement/test_order_agreement.py::test_two_categories_agree_with_fleiss_kappa",
    ),
    (
        "trials of one day compared across days",
        "movement/order_agreement.py",
        "apart[:, None] != apart[None, :]",
        "apart[:, None] == apart[None, :]",
        "reference/movement/test_order_agreement.py::test_across_days_is_what_counting_pairs_gives",
    ),
)
