"""What the cohorts screen says of several camps: words, order, refusal, and whose pairs a viewer sees."""

from dataclasses import replace

import pytest
from made import CAMP, LEFT, STAY, TEE, lookup

from latewood.dashboard.charts.camps_apart import camps_sheet
from latewood.dashboard.reads import guard
from latewood.dashboard.views.cohorts.camps_apart import build_camps_apart
from latewood.pipeline.stats.change.results import CampPair, CampSpread

SPREAD = CampSpread(
    measure="exit_speed", line=TEE, weeks=8.0, n_camps=4, n_left_out=1, mean=1.0, mean_low=0.5, mean_high=1.5, q=9.1,
    share=0.67, share_low=0.0, share_high=0.97, spread=0.25, spread_low=0.0, spread_high=1.0, next_low=-0.2,
    next_high=2.2, n_pairs=6, n_apart=0, verdict="not separated", reason="", level=0.95, method="test",
)  # fmt: skip
PAIR = CampPair(
    measure="exit_speed", line=TEE, camp_id="K", other_id="L", weeks=8.0, difference=0.5, low=-0.25, high=1.25,
    p_adjusted=0.3, verdict="not separated", level=0.95, method="test",
)  # fmt: skip
REFUSED = replace(
    SPREAD,
    weeks=None,
    mean=None,
    verdict="refused",
    n_apart=0,
    reason="no second camp was seen for long enough",
)


def test_the_range_of_one_more_camp_has_its_unit_at_both_ends_of_a_time() -> None:
    timed = replace(SPREAD, measure="sprint_60yd", line="", next_low=-0.07, next_high=0.05)
    (block,) = build_camps_apart([timed], [], ["speed"], lookup())
    text = " ".join(block.sentences).replace("\u00a0", " ")
    assert "One more camp like these would get 0.07 s faster to 0.05 s slower." in text


def test_camps_that_cannot_be_told_apart_are_not_ranked_and_the_pairs_are_drawn() -> None:
    (block,) = build_camps_apart([SPREAD], [PAIR], ["skill_output"], lookup())
    text = " ".join(block.sentences).replace("\u00a0", " ")
    assert "Over the same 8.0 weeks the 4 camps gained +3.6 km/h on average (+1.8 to +5.4)." in text
    assert "One more camp like these would gain \u22120.7 to +7.9 km/h." in text
    assert "67 % of the differences seen is more than chance (0 to 97 %)" in text
    assert "No two camps can be separated: do not rank them." in text
    assert "1 left out" in block.basis
    assert block.rows[0].words == "Heath camp less L"
    assert "+1.8" in camps_sheet([block]) and "separated" not in block.rows[0].words


def test_pairs_told_apart_are_named_and_stand_first_and_no_order_is_made_of_them() -> None:
    apart = replace(SPREAD, measure="sprint_60yd", line="", n_apart=2, verdict="separated")
    pair = replace(PAIR, measure="sprint_60yd", line="", low=0.1, high=0.9, verdict="separated")
    first, second = build_camps_apart([SPREAD, apart], [PAIR, pair], ["skill_output", "speed"], lookup())
    assert first.name.startswith("60-yard")
    assert (
        "2 pairs of camps can be separated; 4 pairs cannot, and no order of all camps" in first.sentences[-1]
    )
    assert first.rows[0].words == "Heath camp less L, separated"
    assert "do not rank" in second.sentences[-1]


def test_with_many_camps_only_pairs_told_apart_are_drawn() -> None:
    many = [replace(PAIR, other_id=f"C{k}") for k in range(11)]
    many[3] = replace(many[3], verdict="separated")
    (block,) = build_camps_apart([replace(SPREAD, n_pairs=11, n_apart=1)], many, ["skill_output"], lookup())
    assert len(block.rows) == 1


def test_what_cannot_be_compared_says_why() -> None:
    (block,) = build_camps_apart([REFUSED], [], ["skill_output"], lookup())
    assert block.refused
    assert block.sentences == ("Camps are not compared: no second camp was seen for long enough.",)
    assert build_camps_apart([REFUSED], [], ["speed"], lookup()) == ()


@pytest.mark.parametrize(("camps", "seen"), [({"K"}, 0), ({"L"}, 0), ({"K", "L"}, 1)])
def test_a_pair_is_seen_by_those_who_may_see_both_camps(camps, seen) -> None:
    circle = guard.circle_of(frozenset(camps), [STAY, LEFT])
    assert len(guard.within((PAIR,), circle)) == seen
    assert CAMP.camp_id == PAIR.camp_id
