from dataclasses import replace

from made import lookup

from latewood.dashboard.views.cohorts.size import size_sentences
from latewood.pipeline.stats.links.results import SizeExponent

ROW = SizeExponent(
    measure="exit_speed", line="", across=0.72, across_low=0.57, across_high=0.87, n_across=168, published=0.67,
    within=0.49, within_low=-0.14, within_high=1.12, n_athletes=166, n_sessions=810, inflation=1.4, time_form="log",
    verdict="fits the published value", reason="", level=0.95, method="test",
)  # fmt: skip


def test_across_and_within_are_two_questions() -> None:
    (text,) = size_sentences([ROW], ["skill_output"], lookup())
    assert "0.72 % (0.57 to 0.87) more (95\u00a0%, 168 athletes), which fits the 0.67 % published" in text
    assert "may be zero; that is another question." in text
    (other,) = size_sentences([replace(ROW, across_low=0.7)], ["skill_output"], lookup())
    assert "which differs from the 0.67 %" in other
    assert size_sentences([ROW], ["speed"], lookup()) == ()


def test_what_is_missing_has_its_reason() -> None:
    reason = "across: 12 athletes, 15 who differ in size are needed; within: mass and time in the program rose together"
    row = replace(ROW, across=None, within=None, verdict="refused", reason=reason)
    (text,) = size_sentences([row], ["skill_output"], lookup())
    assert "is not known across athletes (12 athletes, 15 who differ in size are needed)" in text
    assert "is not known (mass and time in the program rose together)." in text
