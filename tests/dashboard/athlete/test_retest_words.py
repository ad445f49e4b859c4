"""What testing again would do, in words: the chance of two more days is only said as a bound."""

from dataclasses import replace

from made import TEE, UNCLEAR

from latewood.dashboard.views.athlete.retest import retest_words
from latewood.pipeline.stats.change.results import RetestAdvice

ONE = RetestAdvice(
    athlete_id="T1", stay_id="T1@K", measure="exit_speed", line=TEE, extra=1, weeks_apart=2.0, sure_now=0.76,
    sure_then=0.85, clear_then=False, chance_clear=0.12, n_sessions=5, level=0.95, method="test",
)  # fmt: skip
TWO = replace(ONE, extra=2, sure_then=0.9, chance_clear=0.31)


def test_the_chance_after_two_more_days_is_said_to_be_at_most() -> None:
    again = retest_words(UNCLEAR, [TWO, ONE])
    assert again is not None
    text = again.short.replace("\u00a0", " ")
    assert text.endswith("Clear after one more day: 12 %, two: 31 %")
    assert "90 % sure of the direction at one look instead of 76 %, still not clear" in again.more.replace(
        "\u00a0", " "
    )
    assert retest_words(UNCLEAR, [replace(ONE, stay_id="other")]) is None
