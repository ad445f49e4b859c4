"""The sentence on drawn plan starts: its numbers in the units shown, what it rests on, and no word of cause."""

from __future__ import annotations

from dataclasses import replace

from made import SPRINT, TEE, lookup

from latewood.dashboard.text import cautions
from latewood.dashboard.views.cohorts.staggered import staggered_sentences
from latewood.pipeline.stats.links.results import StaggeredLink

TOLD = StaggeredLink(
    camp_id="K", measure="exit_speed", line=TEE, per_kg=0.4, low=0.1, high=0.7, standard_error=0.15, chance=0.01,
    kg_per_week=0.3, chance_mass=0.0005, n_athletes=48, n_sessions=400, n_groups=2, smallest_group=24, n_as_drawn=46,
    verdict="estimated", reason="", level=0.95, method="test",
)  # fmt: skip
REFUSED = replace(
    TOLD, measure="sprint_60yd", line="", per_kg=None, low=None, high=None, standard_error=None, chance=None,
    verdict="refused", reason="only 3 of 48 plans began within a week of the day that was drawn",
)  # fmt: skip
FAMILIES = ("skill_output", "speed")


def words_of_line(*links: StaggeredLink, system: str = "us", families=FAMILIES) -> tuple[str, ...]:
    plain = lookup(system)
    return staggered_sentences(
        links, families, replace(plain, measures={**plain.measures, SPRINT.measure: SPRINT})
    )


def test_the_number_stands_with_its_range_its_athletes_and_the_camp_in_the_units_shown() -> None:
    (words,) = words_of_line(TOLD)
    assert words.startswith("Heath camp, Exit speed (")
    # 0.4 m/s per kg is 0.406 mph per lb
    assert (
        "each lb that an earlier start added went with +0.41\xa0mph (95\xa0% range +0.10 to +0.71), time in"
        in words
    )
    assert words.endswith("time in the program set aside; 48 athletes in 2 groups, 46 began as drawn.")
    assert (
        "each kg that an earlier start added went with +1.44\xa0km/h"
        in words_of_line(TOLD, system="metric")[0]
    )


def test_a_range_over_zero_is_said_to_be_not_told_from_zero() -> None:
    (words,) = words_of_line(replace(TOLD, low=-0.1, verdict="may be zero"))
    assert "(may be zero)" in words
    assert "is not known" not in words_of_line(TOLD)[0]


def test_a_refusal_says_why_and_stands_last() -> None:
    first, last = words_of_line(REFUSED, TOLD)
    assert first.startswith("Heath camp, Exit speed")
    assert last == (
        "Heath camp, 60-yard sprint: no number, only 3 of 48 plans began within a week of the day that was drawn."
    )


def test_only_the_kinds_picked_and_measures_that_are_known() -> None:
    assert words_of_line(TOLD, REFUSED, families=("speed",)) == words_of_line(REFUSED)
    assert words_of_line(replace(TOLD, measure="gone")) == ()


def test_no_sentence_says_cause() -> None:
    for words in words_of_line(TOLD, REFUSED):
        assert not any(word in words for word in ("because", "due to", "leads to", "caus", "makes"))
    assert "caus" not in cautions.DRAWN_STARTS
