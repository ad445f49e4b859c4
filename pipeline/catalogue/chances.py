"""Chances in words and in per cent: one scale for screens, exports and the command line.

A word stands for the chance as it is shown, in whole per cent, so that "75 %" never stands beside two words.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceWord:
    """One step of the scale: its words, and the lowest chance they stand for."""

    words: str
    at_least: float


SCALE: Final = (
    ChanceWord(words="very likely", at_least=0.95),
    ChanceWord(words="likely", at_least=0.75),
    ChanceWord(words="about as likely as not", at_least=0.25),
    ChanceWord(words="unlikely", at_least=0.05),
    ChanceWord(words="very unlikely", at_least=0.0),
)
AS_LIKELY_AS_NOT: Final = SCALE[2]


def chance_word(chance: float) -> str:
    """Return the words of the scale for a chance.

    >>> [chance_word(chance) for chance in (0.998, 0.75, 0.5, 0.249, 0.02)]
    ['very likely', 'likely', 'about as likely as not', 'about as likely as not', 'very unlikely']
    """
    shown = _shown(chance)
    return next((step.words for step in SCALE if shown >= 100 * step.at_least), SCALE[-1].words)


def is_unlikely(chance: float) -> bool:
    """Return whether the scale calls a chance unlikely or very unlikely."""
    return _shown(chance) < 100 * AS_LIKELY_AS_NOT.at_least


def is_likely(chance: float) -> bool:
    """Return whether the scale calls a chance likely or very likely."""
    return _shown(chance) >= 100 * SCALE[1].at_least


def chance_text(chance: float, space: str = " ") -> str:
    """Return a chance in per cent that never claims 0 or 100.

    >>> chance_text(0.46), chance_text(0.999), chance_text(0.0)
    ('46 %', 'over 99 %', 'under 1 %')
    """
    if chance < 0.01:
        return f"under 1{space}%"
    return f"over 99{space}%" if chance > 0.99 else f"{_shown(chance)}{space}%"


def _shown(chance: float) -> int:
    """The whole per cent of a chance; words and number are taken from the same rounding."""
    return round(chance * 100)


def scale_text() -> str:
    """Return the whole scale in one sentence.

    >>> scale_text()[:47]
    'Very likely: 95 % or more; likely: 75 to 94 %; '
    """
    parts, top = [], None
    for step in SCALE:
        low = round(100 * step.at_least)
        if top is None:
            parts.append(f"{step.words}: {low} % or more")
        elif low:
            parts.append(f"{step.words}: {low} to {top} %")
        else:
            parts.append(f"{step.words}: under {top + 1} %")
        top = low - 1
    text = "; ".join(parts)
    return f"{text[:1].upper()}{text[1:]}."
