"""Camps compared over the same weeks: what is compared, what is left out, and what a joining offset does."""

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.stats.change.camp_gains import cohorts

LONG, SHORT, BEGUN = (0.0, 0.2, 2.0, 4.0, 6.0, 8.0, 10.0), (0.0, 0.2, 2.0, 4.0, 6.0), (0.0, 0.2, 1.5, 2.0)


def camp(simulate, seed, name, weeks, slope=0.0, n=16):
    made = simulate(seed, n=n, weeks=weeks, camp=name)
    made.sessions["value"] += slope * made.sessions["weeks"]
    return made


def compared(camps, measure):
    sessions = pd.concat([c.sessions for c in camps])
    return cohorts(sessions, pd.concat([c.stays for c in camps]), {measure.key: measure})


def test_camps_are_compared_over_the_shortest_of_their_lengths(simulated_camp, a_measure):
    steep = 1.5  # both camps gain alike per week, and one lasts four weeks longer
    result = compared(
        [camp(simulated_camp, 2_690_000 + k, f"c{k}", w, steep) for k, w in enumerate((LONG, SHORT, LONG))],
        a_measure(),
    )
    (spread,) = result.spreads
    assert spread.weeks == pytest.approx(6.0)
    assert {p.weeks for p in result.pairs} == {spread.weeks}
    assert (spread.n_camps, spread.n_pairs, spread.n_apart) == (3, 3, 0)
    assert spread.verdict == "not separated"
    assert {g.camps_differ for g in result.gains} == {False}
    own = {g.camp_id: g.gain for g in result.gains}
    assert own["c0"] - own["c1"] > 4.0  # over their own lengths they do differ
    assert all(abs(p.difference) < 3.0 for p in result.pairs)
    assert spread.next_low is None and "4 are needed" in spread.reason


def test_camps_that_differ_are_told_apart_pair_by_pair(simulated_camp, a_measure):
    slopes = (0.0, 0.0, 1.2, 1.2)
    result = compared(
        [camp(simulated_camp, 2_690_100 + k, f"c{k}", LONG, s, 24) for k, s in enumerate(slopes)], a_measure()
    )
    words = {(p.camp_id, p.other_id): p.verdict for p in result.pairs}
    across = {("c0", "c2"), ("c0", "c3"), ("c1", "c2"), ("c1", "c3")}
    assert {pair for pair, verdict in words.items() if verdict == "separated"} == across
    (spread,) = result.spreads
    assert spread.spread_low < 12.0 * np.std(slopes, ddof=1) < spread.spread_high
    assert spread.next_low < spread.mean_low < spread.mean < spread.mean_high < spread.next_high
    assert all(p.difference < 0 and p.p_adjusted <= 0.05 for p in result.pairs if p.verdict == "separated")


def test_a_camp_seen_briefly_is_left_out_and_said(simulated_camp, a_measure):
    camps = [camp(simulated_camp, 2_690_200 + k, f"c{k}", w) for k, w in enumerate((LONG, SHORT, BEGUN))]
    (spread,) = compared(camps, a_measure()).spreads
    assert (spread.n_camps, spread.n_left_out, spread.n_pairs) == (2, 1, 1)
    assert "seen for less than half the usual weeks: 1" in spread.reason
    two = compared([camp(simulated_camp, 2_690_203, "c3", (0.0, 0.2, 1.2)), camps[0], camps[1]], a_measure())
    assert {p.camp_id for p in two.pairs} | {p.other_id for p in two.pairs} == {"c0", "c1"}


def test_one_camp_is_compared_with_nothing(simulated_camp, a_measure):
    result = compared([camp(simulated_camp, 2_690_300, "c0", SHORT)], a_measure())
    assert (result.spreads, result.pairs, result.gains[0].camps_differ) == ((), (), None)


def test_an_offset_within_one_camp_widens_its_pairs_and_one_shared_by_both_does_not(
    simulated_camp, a_measure
):
    camps = [camp(simulated_camp, 2_690_400 + k, f"c{k}", LONG) for k in range(2)]
    plain = compared(camps, a_measure()).pairs[0]

    def switched(which, lines):
        for k, line in zip(which, lines, strict=True):
            later = camps[k].sessions["weeks"] > 4.0
            camps[k].sessions["shift_se"] = np.where(later, 1.5, 0.0)
            camps[k].sessions["own_line"] = np.where(later, line, "device=radar")
        return compared(camps, a_measure()).pairs[0]

    one = switched([0], ["device=optical"])
    shared = switched([1], ["device=optical"])
    apart = switched([1], ["device=another"])
    width = [p.high - p.low for p in (plain, one, shared, apart)]
    assert width[1] > 1.3 * width[0]
    assert width[2] < 1.1 * width[0]  # both camps were moved alike
    assert width[3] > 1.2 * width[1]
