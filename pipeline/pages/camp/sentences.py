"""What a fair comparison allows us to say: two sentences, no cause, no order where camps cannot be separated."""

from __future__ import annotations

from collections.abc import Sequence

from latewood.pipeline.pages.camp.model import Gain
from latewood.pipeline.pages.words import PrintScale, count, with_unit

TOGETHER = "growth, practice, learning the test and training together"


def fair_sentences(lead: Gain | None, gains: Sequence[Gain], camp: str) -> tuple[str, str]:
    """Return the two sentences about the leading line of a camp."""
    if lead is None:
        n = max((one.measured for one in gains), default=0)
        return (
            f"No group number can be given for {camp}: at most {count(n, 'athlete')} can be judged alike, "
            "and single athletes are shown instead.",
            "Nothing can be said about this camp beside others.",
        )
    return _first(lead, camp), second_sentence(lead)


def _first(one: Gain, camp: str) -> str:
    who = f"{one.measured} of the {one.enrolled} athletes enrolled in {camp} were measured in {named(one)}"
    they = "they, with those who left early," if one.left_early else "they"
    return (
        f"{who}, and over {one.weeks or 0:.1f} weeks {they} {change_words(one)}: that is what changed "
        f"({TOGETHER}), not what the camp brought about."
    )


def change_words(one: Gain) -> str:
    """'gained 1.2 mph on average (95 % interval +0.5 to +2.0)'; that it may be no change where it may."""
    scale = scale_of_gain(one)
    gain, low, high = one.gain or 0.0, one.low or 0.0, one.high or 0.0
    span = f"{level_words(one.level)} interval {scale.signed(low)} to {scale.signed(high)}"
    if low <= 0 <= high:
        return f"changed by {with_unit(scale.signed(gain), one.unit)} on average, which may be no change ({span})"
    return f"{_verb(one, gain)} {with_unit(scale.text(abs(gain)), one.unit)} on average ({span})"


def _verb(one: Gain, gain: float) -> str:
    if one.unit == "s" and one.better == "lower":
        return "got faster by" if gain < 0 else "got slower by"
    return "gained" if gain > 0 else "lost"


def second_sentence(one: Gain) -> str:
    """Whether camps can be set beside each other in this measure."""
    if one.camps_differ is None:
        return "No other camp was measured in the same way, so this camp cannot be set beside another."
    if one.camps_differ:
        return (
            "Over the whole program at least two camps differ in this measure after chance is allowed for; camps "
            "differ in who came and for how long, so it is no verdict on any of them."
        )
    return (
        "The program's camps cannot be separated in this measure at equal time, so no order of camps is given, and "
        "a larger number beside this one is not a better camp."
    )


def named(one: Gain) -> str:
    """The measure with its method in brackets.

    Its first letter small, since it stands within a sentence.
    """
    label = one.label[0].lower() + one.label[1:]
    return f"{label} ({one.method})" if one.method else label


def scale_of_gain(one: Gain) -> PrintScale:
    """How the numbers of a gain, already in their unit, are written."""
    return PrintScale(unit=one.unit, factor=1.0, decimals=one.decimals)


def level_words(level: float) -> str:
    """'95 %'.

    >>> level_words(0.95)
    '95 %'
    """
    return f"{level * 100:g} %"
