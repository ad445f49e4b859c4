"""The words that set standing by age beside standing by growth stage."""

from dataclasses import replace
from datetime import date

from made import TEE, lookup

from latewood.dashboard.views.athlete.stages import build_stages, stage_rule
from latewood.pipeline.stats.peers.results import PeerStage

BY_AGE = PeerStage(
    athlete_id="T1", measure="exit_speed", line=TEE, as_of=date(2032, 8, 11), value=35.4, basis="age",
    group_low=14.1, group_high=16.1, stage="around the growth peak", n_peers=40, n_below=12.0, percentile=30.5,
    low=19.6, high=43.4, reference="program; baseball; male", verdict="shown", reason="", level=0.9, method="test",
)  # fmt: skip
BY_STAGE = replace(
    BY_AGE,
    basis="growth stage",
    group_low=None,
    group_high=None,
    n_peers=23,
    percentile=61.2,
    low=44.0,
    high=76.0,
)
FEW = replace(
    BY_STAGE, n_peers=9, percentile=None, low=None, high=None, verdict="refused",
    reason="9 peers of the same growth stage, 20 are needed",
)  # fmt: skip


def test_both_standings_stand_in_one_sentence_with_interval_and_count() -> None:
    (line,) = build_stages([BY_AGE, BY_STAGE], lookup())
    text = line.text.replace("\u00a0", " ")
    assert text.startswith(
        "Exit speed (tee, metal bat): by age (14.1 to 16.1 years) better than 30 of 100 (90 %"
    )
    assert "range 20 to 43, 40 peers); by growth stage (around the growth peak) better than 61 of 100" in text


def test_a_refused_one_says_why_beside_the_other_and_lines_without_any_stand_last() -> None:
    nothing = [
        replace(FEW, measure="body_mass", line=""),
        replace(FEW, measure="body_mass", line="", basis="age"),
    ]
    first, last = build_stages([*nothing, BY_AGE, FEW], lookup())
    assert (
        "by growth stage (around the growth peak) not shown: 9 peers of the same growth stage" in first.text
    )
    assert "better than 30 of 100" in first.text
    assert "better than" not in last.text


def test_the_rule_names_the_stage_and_how_sure_it_is() -> None:
    rule = stage_rule([BY_AGE, BY_STAGE])
    assert rule.startswith("By the published growth equations: around the growth peak.")
    assert "classes are uncertain by about a year" in rule
    assert stage_rule([]) == ""
