"""Texts of the page: numbers with their unit, dates, and names made safe to print anywhere."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from latewood.pipeline.catalogue.model import Measure, SummaryRule
from latewood.pipeline.catalogue.scales import MINUS, UnitScale, is_timed, pace

LONGEST_NAME = 80
MOST_MARKS = 3  # combining marks on one letter; more only cover the lines above and below
_JOINERS = "\u200c\u200d"  # needed inside Persian, Indic and emoji sequences
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintScale(UnitScale):
    """How a measure's values are printed: rounded first, so that page, file and data carry one number."""

    def text(self, shown: float) -> str:
        """A shown value as text, without its unit."""
        return f"{shown:.{self.decimals}f}".replace("-", MINUS)

    def signed(self, shown: float) -> str:
        """A shown change as text with its sign, without its unit."""
        return f"+{self.text(shown)}" if shown > 0 else self.text(shown)


def scale_of(measure: Measure, system: str) -> PrintScale:
    """Return how the values of a measure are written in 'us' or 'metric' units."""
    return PrintScale.of_measure(measure, system)


def size_text(shown: float, scale: PrintScale) -> str:
    """A height or mass in words; inches as feet and inches, as heights are said.

    >>> size_text(69.8, PrintScale(unit="in", factor=1.0, decimals=1))
    '5 ft 9.8 in'
    """
    if scale.unit != "in":
        return with_unit(scale.text(shown), scale.unit)
    tenths = round(shown * 10)
    return f"{tenths // 120} ft {tenths % 120 / 10:.1f} in"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """How changes of one measure are said: times that should fall as faster or slower, everything else with a sign."""

    scale: PrintScale
    timed: bool

    def words(self, change: float) -> str:
        """A shown change in words, with its unit.

        >>> pace = Step(scale=PrintScale(unit="s", factor=1.0, decimals=2), timed=True)
        >>> pace.words(-0.12), pace.words(0.0), pace.span(-0.2, 0.03)
        ('0.12 s faster', 'no change', '0.20 faster to 0.03 slower')
        """
        if not self.timed:
            return with_unit(self.scale.signed(change), self.scale.unit)
        if change == 0:
            return "no change"
        return f"{with_unit(self.scale.text(abs(change)), self.scale.unit)} {pace(change)}"

    def span(self, low: float, high: float) -> str:
        """The interval of a change, without its unit."""
        if not self.timed:
            return f"{self.scale.signed(low)} to {self.scale.signed(high)}"
        ends = [self.scale.text(abs(end)) for end in (low, high)]
        text = [pace(end) for end in (low, high)]
        if text[0] == text[1]:
            return f"{ends[0]} to {ends[1]} {text[0]}"
        return " to ".join(f"{end} {word}".strip() for end, word in zip(ends, text, strict=True))


def step_of(scale: PrintScale, better: str) -> Step:
    """Return how changes on a scale are said, where 'lower' or 'higher' is better."""
    return Step(scale=scale, timed=is_timed(better, scale.unit))


def set_words(load: float | None, reps: int | None, scale: PrintScale) -> str:
    """The set behind an estimated maximum, in the unit shown; '' where there is none.

    >>> set_words(117.5, 5, PrintScale(unit="lb", factor=2.2046226, decimals=0))
    '259 lb × 5'
    """
    if load is None or reps is None:
        return ""
    return f"{with_unit(scale.text(scale.rounded(load)), scale.unit)} × {reps}"


def with_unit(number: str, unit: str) -> str:
    """The number and its unit."""
    return f"{number} {unit}".strip()


def day(on: date) -> str:
    """A date with its year, the same on every machine.

    >>> day(date(2033, 6, 4))
    '4 Jun 2033'
    """
    return f"{on.day} {_MONTHS[on.month - 1]} {on.year}"


def count(n: int, one: str) -> str:
    """'1 session', '3 sessions'."""
    return f"{n} {one}" if n == 1 else f"{n} {one}s"


def joined(parts: Sequence[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    return f"{', '.join(parts[:-1])} and {parts[-1]}" if len(parts) > 1 else "".join(parts)


def ordinal(number: int) -> str:
    """'1st', '2nd', '11th'.

    >>> [ordinal(n) for n in (1, 2, 3, 11, 12, 71, 90)]
    ['1st', '2nd', '3rd', '11th', '12th', '71st', '90th']
    """
    ending = "th" if number % 100 in {11, 12, 13} else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def age_words(days: int) -> str:
    """How old something is, in months."""
    months = max(1, round(days / 30.44))
    return count(months, "month")


def statistic_words(measure: Measure, trials: int) -> str:
    """What the typical value of one session is.

    >>> from latewood.pipeline.catalogue.load import load_catalogue
    >>> statistic_words(load_catalogue().measures["exit_speed"], 10)
    'median of 10 trials'
    """
    if trials == 1:
        return "1 trial"
    if measure.summary is SummaryRule.MEAN_OF_BEST:
        best = "" if trials <= measure.keep else f"best {measure.keep} of "
        return f"mean of {best}{trials} trials"
    return f"{measure.summary} of {trials} trials"


def shown_name(text: str, longest: int = LONGEST_NAME) -> str:
    r"""A name without characters that act instead of showing: controls, direction overrides, piles of marks.

    >>> shown_name("Ann\u202e\tx\u0000 O'Hara"), shown_name("a" * 300, 10)
    ("Ann x O'Hara", 'aaaaaaaaa…')
    """
    kept: list[str] = []
    marks = 0
    for letter in unicodedata.normalize("NFC", text):
        kind = unicodedata.category(letter)
        marks = marks + 1 if kind in {"Mn", "Me"} else 0
        if marks > MOST_MARKS or (kind.startswith("C") and letter not in _JOINERS and not letter.isspace()):
            continue
        kept.append(" " if letter.isspace() else letter)
    name = " ".join("".join(kept).split())
    return name if len(name) <= longest else f"{name[: longest - 1].rstrip()}…"
