"""The order of peaks: counted, tied, refused over a doubt, compared on shared segments only, with honest intervals."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from statsmodels.stats.anova import anova_lm

from latewood.pipeline.stats.movement.order_shares import design_effect, difference_of_shares
from latewood.pipeline.stats.movement.peak_order import Orders, peak_orders

LINE = "action=swing; sensor_class=inertial; event=contact"
FIRST = date(2032, 6, 2)
SWING = {"pelvis": -118.0, "torso": -82.0, "lead_arm": -58.0, "bat": -9.0}
NO_DOUBT = pd.DataFrame(columns=["athlete_id", "measured_on", "segment"])


def day(who="T1", week=0, *, late=(), without=(), shift=45.0, trials=8, rate=None) -> list[dict[str, object]]:
    return [
        {
            "athlete_id": who, "measured_on": FIRST + timedelta(weeks=week), "action": "swing", "line": LINE,
            "trial": trial, "segment": segment, "rate_hz": rate,
            "ms": ms + (shift if segment == "pelvis" and trial in late else 0.0),
        }
        for trial in range(1, trials + 1)
        for segment, ms in SWING.items()
        if segment not in without
    ]  # fmt: skip


def crowd(n=12) -> list[dict[str, object]]:
    """Athletes seen on three days, so that days' differences are known; some are late in other trials each day."""
    return [
        row
        for k in range(n)
        for week in range(3)
        for row in day(f"C{k:02}", week, late=[(k + week + j) % 8 + 1 for j in range(k % 5)])
    ]


def orders(rows: list[dict[str, object]], doubts: pd.DataFrame = NO_DOUBT) -> Orders:
    return peak_orders(pd.DataFrame(rows), doubts)


def one(found: Orders, part: str, week: int = 0, who: str = "T1"):
    on = FIRST + timedelta(weeks=week)
    return next(o for o in found.orders if (o.athlete_id, o.part, o.measured_on) == (who, part, on))


def test_a_late_pelvis_counts_once_in_the_whole_and_in_its_pair() -> None:
    result = orders(day(late=(5,)))
    full, pair = one(result, "pelvis>torso>lead_arm>bat"), one(result, "pelvis>torso")
    assert (full.n, full.n_order, full.n_out, full.out_trials) == (8, 7, 1, "5")
    assert (pair.n_order, pair.n_out, pair.lag_ms) == (7, 1, 36.0)
    assert one(result, "torso>lead_arm").n_order == 8
    assert full.share == 7 / 8


@pytest.mark.parametrize(
    ("shift", "rate", "order", "together", "out"),
    [(28.0, None, 7, 0, 1), (28.1, None, 7, 1, 0), (36.0, None, 7, 1, 0), (44.1, None, 7, 0, 1)],
)
def test_peaks_within_eight_milliseconds_are_together(shift, rate, order, together, out) -> None:
    if shift == 28.0:  # 8.0 ms apart is not within 8 ms: still in order
        order, out = 8, 0
    pair = one(orders(day(late=(3,), shift=shift, rate=rate)), "pelvis>torso")
    assert (pair.n_order, pair.n_together, pair.n_out) == (order, together, out)


def test_a_slow_sensor_widens_the_window_to_two_samples() -> None:
    fast, slow = (one(orders(day(rate=rate)), "torso>lead_arm") for rate in (250.0, 80.0))
    assert (fast.tie_ms, fast.n_order) == (8.0, 8)
    assert (slow.tie_ms, slow.n_together) == (25.0, 8)  # the peaks are 24 ms apart


def test_a_missing_segment_leaves_the_order_of_the_others() -> None:
    result = orders(day(without=("lead_arm",)))
    full = one(result, "pelvis>torso>bat")
    assert (full.n_order, full.missing) == (8, "lead_arm")
    assert [o.part for o in result.orders] == ["pelvis>torso>bat", "pelvis>torso", "torso>bat"]


def test_days_with_other_segments_are_compared_on_shared_neighbours_only() -> None:
    result = orders([*crowd(), *day(), *day(week=1, without=("lead_arm",))])
    mine = {c.part: c for c in result.changes if c.athlete_id == "T1"}
    assert {p: c.verdict for p, c in mine.items()} == {
        "pelvis>torso>bat": "refused",
        "pelvis>torso": "no clear change",
        "torso>bat": "refused",
    }
    assert "not the same" in mine["torso>bat"].reason


def test_no_verdict_of_any_kind_over_a_reversed_sensor() -> None:
    doubt = pd.DataFrame([{"athlete_id": "T1", "measured_on": FIRST, "segment": "torso"}])
    result = orders([*day(), *day(week=1)], doubt)
    (refused,) = [o for o in result.orders if o.measured_on == FIRST]
    assert (refused.verdict, refused.share, refused.n_trials) == ("refused", None, 8)
    assert "torso" in refused.reason
    assert result.changes == []
    assert one(result, "pelvis>torso", 1).verdict == "given"


def test_a_trial_without_a_segment_counts_for_its_pairs_only() -> None:
    rows = [r for r in day() if not (r["trial"] == 2 and r["segment"] == "bat")]
    result = orders(rows)
    assert one(result, "pelvis>torso>lead_arm>bat").n == 7
    assert (one(result, "pelvis>torso").n, one(result, "lead_arm>bat").n) == (8, 7)


def test_a_clear_change_is_told_and_counted_since_first_and_day_before() -> None:
    mine = [*day(late=range(1, 8)), *day(week=1, late=(1, 2)), *day(week=2, late=())]
    result = orders([*crowd(), *mine])
    words = {c.since: c for c in result.changes if c.athlete_id == "T1" and c.part == "pelvis>torso"}
    assert words["first"].verdict == "more often in order"
    assert (words["first"].share_from, words["first"].share_to) == (1 / 8, 1.0)
    assert words["previous"].verdict == "no clear change"
    back = orders([*crowd(), *day(), *day(week=1, late=range(1, 9))])
    (worse,) = [c for c in back.changes if c.athlete_id == "T1" and c.part == "pelvis>torso"]
    assert worse.verdict == "less often in order"


def test_without_repeats_a_change_is_refused_and_a_share_says_so() -> None:
    result = orders([*day(), *day(week=1, late=range(1, 9))])
    assert {c.verdict for c in result.changes} == {"refused"}
    assert "too few repeats" in one(result, "pelvis>torso").reason


def test_the_design_effect_is_the_ratio_of_mean_squares() -> None:
    rng = np.random.default_rng(5)
    frame = pd.DataFrame([
        {"owner": f"A{k}", "session": s, "hit": float(rng.random() < p)}
        for k in range(12)
        for s in range(3)
        for p in [rng.beta(1, 1)]
        for _ in range(8)
    ])
    frame["cell"] = frame["owner"] + frame["session"].astype(str)
    nested = anova_lm(smf.ols("hit ~ owner", frame).fit(), smf.ols("hit ~ cell", frame).fit())
    result = design_effect(frame)
    assert result == pytest.approx(nested["F"].iloc[1])
    assert result is not None and result > 2


def test_intervals_of_a_change_hold_when_days_differ() -> None:
    # Each day has its own share, about the athlete's unchanging one: trials alone would promise too much.
    rng = np.random.default_rng(17)
    naive, held, n = 0, 0, 1500
    for _ in range(n // 30):
        usual = rng.uniform(0.3, 0.9, 30)
        shares = np.array([rng.beta(3 * u, 3 * (1 - u), 3) for u in usual])
        hits = rng.random((30, 3, 8)) < shares[:, :, None]
        frame = pd.DataFrame({
            "owner": np.repeat(np.arange(30), 24), "session": np.tile(np.repeat(np.arange(3), 8), 30),
            "hit": hits.ravel().astype(float),
        })  # fmt: skip
        effect = design_effect(frame) or 1.0
        for first, last in zip(hits[:, 0].sum(axis=1), hits[:, 2].sum(axis=1), strict=True):
            for used in (1.0, effect):
                _, low, high = difference_of_shares((first / used, 8 / used), (last / used, 8 / used))
                held += used > 1 and low <= 0 <= high
                naive += used == 1 and low <= 0 <= high
    assert held / n > 0.93
    assert naive / n < 0.85


def test_how_far_the_order_repeats() -> None:
    # half the athletes always turn the pelvis late, half never: trials of one day agree, and so do days
    rows = [
        r for k in range(10) for w in range(2) for r in day(f"R{k}", w, late=range(1, 9) if k % 2 else ())
    ]
    result = {r.part: r for r in orders(rows).repeatability}
    pair = result["pelvis>torso"]
    assert (pair.n_athletes, pair.n_returning, pair.n_trials) == (10, 10, 160)
    assert pair.within_day == pytest.approx(1.0)
    assert pair.across_days == pytest.approx(1.0)
    assert result["lead_arm>bat"].verdict == "refused"
    assert "same order" in result["lead_arm>bat"].reason
    # each athlete turns it late on one day and not on the other: days agree by less than chance would give
    rows = [r for k in range(10) for w in range(2) for r in day(f"R{k}", w, late=range(1, 9) if w else ())]
    pair = {r.part: r for r in orders(rows).repeatability}["pelvis>torso"]
    assert pair.within_day == pytest.approx(1.0)
    assert pair.across_days is not None and pair.across_days < -0.9
    few = orders([r for k in range(5) for r in day(f"R{k}")]).repeatability
    assert {r.verdict for r in few} == {"refused"}


def test_nothing_at_all_gives_nothing() -> None:
    columns = ["athlete_id", "measured_on", "action", "line", "trial", "segment", "ms", "rate_hz"]
    result = peak_orders(pd.DataFrame(columns=columns), NO_DOUBT)
    assert (list(result.orders), list(result.changes), list(result.repeatability)) == ([], [], [])
