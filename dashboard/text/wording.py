"""Numbers, units, dates and sentences as text. Says what changed and how sure that is, never what caused it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from latewood.dashboard.reads.rows import LineRow, MeasureRow
from latewood.pipeline.catalogue import chances, scales
from latewood.pipeline.catalogue.scales import MINUS, UnitScale, pace
from latewood.pipeline.catalogue.units import UNITS, display_unit, linear
from latewood.pipeline.stats.change.flags import expected_false_clear

THIN = "\u00a0"
SYSTEMS = {"us": "US units", "metric": "Metric"}
# In the order in which a coach reads them: what the work is for comes first.
FAMILIES = {
    "skill_output": "Skill output",
    "speed": "Speed",
    "strength": "Strength",
    "jump_power": "Jump and power",
    "build": "Build",
    "movement": "Movement",
}
VERDICTS = {
    "clear gain": "Clear gain",
    "clear loss": "Clear loss",
    "clear rise": "Clear rise",
    "clear fall": "Clear fall",
    "not clear yet": "Not clear yet",
    "too few sessions": "Too few sessions",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale(UnitScale):
    """How a measure's canonical values are written on a screen."""

    def number(self, value: float, extra: int = 0) -> str:
        """The bare number."""
        return plain_number(self.of(value), self.decimals + extra)

    def text(self, value: float, extra: int = 0) -> str:
        """The number with its unit."""
        return with_unit(self.number(value, extra), self.unit)

    def change(self, value: float, extra: int = 0) -> str:
        """The number with its sign and unit."""
        return with_unit(signed_number(self.of(value), self.decimals + extra), self.unit)

    def interval(self, low: float, high: float, extra: int = 0) -> str:
        """'low to high' with signs, without the unit."""
        places = self.decimals + extra
        return f"{signed_number(self.of(low), places)} to {signed_number(self.of(high), places)}"

    def span(self, low: float, high: float) -> str:
        """'low to high' without signs, for values rather than changes."""
        return f"{self.number(low)} to {self.number(high)}"


def plain_number(value: float, decimals: int) -> str:
    """The number with thousands commas and a true minus sign; minus zero is zero.

    >>> plain_number(-0.04, 1), plain_number(1234.5, 0)
    ('0.0', '1,234')
    """
    text = f"{value:,.{decimals}f}"
    bare = text.lstrip("-")
    negative = text.startswith("-") and any(digit in bare for digit in "123456789")
    return f"{MINUS}{bare}" if negative else bare


def signed_number(value: float, decimals: int) -> str:
    """The number with its sign, except zero.

    >>> signed_number(2.34, 1), signed_number(0.01, 1)
    ('+2.3', '0.0')
    """
    text = plain_number(value, decimals)
    shown_zero = not any(digit in text for digit in "123456789")
    return text if shown_zero or text.startswith(MINUS) else f"+{text}"


def with_unit(number: str, unit: str) -> str:
    """The number and the unit, kept together on one line."""
    if not unit:
        return number
    return f"{number}{unit}" if unit == "%" else f"{number}{THIN}{unit}"


def scale_of(measure: MeasureRow, system: str) -> Scale:
    """How to write the values of one measure in one system of units."""
    return Scale.of_measure(measure, system)


def mass_scale(system: str) -> Scale:
    """How to write body mass that comes from the weigh-ins."""
    unit = display_unit("kg", system)
    return Scale(unit=unit, factor=linear("kg", unit), decimals=1)


def height_text(cm: float, system: str) -> str:
    """A standing height as people say it.

    >>> height_text(180.3, "us"), height_text(180.3, "metric")
    ('5 ft 11.0 in', '180.3 cm')
    """
    if system == "metric":
        return f"{cm:.1f}{THIN}cm".replace(THIN, " ")
    tenths = round(linear("cm", "in") * cm * 10)
    return f"{tenths // 120} ft {tenths % 120 / 10:.1f} in"


def day(on: date) -> str:
    """A date without its year, for text beside other dates of the same stay.

    >>> day(date(2033, 6, 4))
    '4 Jun'
    """
    return f"{on.day} {on:%b}"


def full_day(on: date) -> str:
    """A date with its year."""
    return f"{on.day} {on:%b %Y}"


def day_span(first: date, last: date) -> str:
    """Two dates as one text, the year once where it is the same."""
    if first == last:
        return full_day(first)
    return f"{day(first) if first.year == last.year else full_day(first)} to {full_day(last)}"


def age_text(born: date | None, today: date) -> str:
    """The age in years and months, or that it is not known."""
    if born is None:
        return "age not known"
    months = (today.year - born.year) * 12 + today.month - born.month - (today.day < born.day)
    return f"{months // 12} y {months % 12} mo"


def count_of(n: int, one: str, many: str | None = None) -> str:
    """'1 session', '3 sessions'."""
    return f"{n:,} {one if n == 1 else many or one + 's'}"


def level_text(level: float) -> str:
    """'95 %'."""
    return f"{level * 100:g}{THIN}%"


def chance_text(chance: float) -> str:
    """A probability in per cent that never claims 0 or 100.

    >>> chance_text(0.46).replace(THIN, " "), chance_text(0.999).replace(THIN, " ")
    ('46 %', 'over 99 %')
    """
    return chances.chance_text(chance, THIN)


def sureness(probability_better: float | None, better: str, *, clear: bool) -> str:
    """How sure the direction is, in a coach's words; where neither way is better, up or down.

    The words of the scale are for clear verdicts. A change that is not clear has been looked at more than once, so the
    chance of this one look would claim too much: it leans, and the chance is said to be that of one look.

    >>> sureness(0.999, "higher", clear=True).replace(THIN, " "), sureness(0.93, "higher", clear=False)
    ('very likely better (over 99 %)', 'leaning better (93\xa0% at one look)')
    """
    if probability_better is None:
        return "cannot be said"
    good, bad = ("up", "down") if better == "neither" else ("better", "worse")
    towards = good if probability_better >= 0.5 else bad
    chance = max(probability_better, 1 - probability_better)
    if clear:
        return f"{chances.chance_word(chance)} {towards} ({chance_text(chance)})"
    text = f"leaning {towards} ({chance_text(chance)} at one look)"
    return text if chances.is_likely(chance) else "could be either way"


def length_text(cm: float, system: str) -> str:
    """A short length in the unit shown.

    >>> length_text(2.54, "us").replace(THIN, " "), length_text(2.54, "metric").replace(THIN, " ")
    ('1.0 in', '2.5 cm')
    """
    unit = display_unit("cm", system)
    return with_unit(plain_number(cm * linear("cm", unit), 1), UNITS[unit].shown)


def direction(measure: MeasureRow, change: float) -> str:
    """The verb of a change: faster and slower for times, rose and fell otherwise."""
    if is_timed(measure):
        return pace(change) or "slower"
    return "up" if change > 0 else "down"


def change_words(measure: MeasureRow, scale: Scale, change: float) -> str:
    """A change with its unit: times as faster or slower, everything else with its sign."""
    if not is_timed(measure):
        return scale.change(change)
    if not any(digit in "123456789" for digit in scale.number(change)):
        return "no change"
    return f"{scale.text(abs(change))} {direction(measure, change)}"


def interval_words(measure: MeasureRow, scale: Scale, low: float, high: float) -> str:
    """'low to high' of a change, without its unit: times as faster or slower, everything else with signs."""
    if not is_timed(measure):
        return scale.interval(low, high)
    (first, last), ends = (direction(measure, end) for end in (low, high)), [abs(low), abs(high)]
    if first == last:
        return f"{scale.number(min(ends))} to {scale.number(max(ends))} {first}"
    return f"{scale.number(ends[0])} {first} to {scale.number(ends[1])} {last}"


def is_timed(measure: MeasureRow) -> bool:
    """Whether changes of a measure are said as faster or slower."""
    return scales.is_timed(measure.better, measure.unit)


def reading_order(measure: MeasureRow) -> tuple[int, int]:
    """Where a measure stands in a list: outputs first, then as in the catalogue."""
    families = list(FAMILIES)
    rank = families.index(measure.family) if measure.family in families else len(families)
    return rank, measure.position


def line_words(lines: dict[tuple[str, str], LineRow], measure: str, line: str) -> str:
    """The words of a line; its own key where it has none; '' for a measure without conditions."""
    result = lines.get((measure, line))
    words = result.label if result is not None else line
    return words.strip()


def about_count(expected: float) -> str:
    """An expected number in words.

    >>> about_count(0.3), about_count(2.96)
    ('fewer than 1', 'about 3')
    """
    return "fewer than 1" if expected < 0.95 else f"about {expected:.0f}"


def expected_by_chance(sessions: Sequence[tuple[int, int]], level: float) -> str:
    """How many verdicts, each from so many of the sessions planned, would be clear without a change: now, and ever."""
    n = len(sessions)
    if n == 0:
        return ""
    of = "of this 1 change" if n == 1 else f"of these {n} changes"
    now, ever = about_count(expected_false_clear(sessions)), about_count(n * (1 - level))
    full = "" if now == ever else f", and {ever} at some time in the stay"
    return f"By luck alone, {now} {of} would look clear today{full}."


def among_many(n_clear: int, n_stand: int) -> str:
    """How many clear verdicts stand when all verdicts of the board are taken together."""
    if n_clear == 0:
        return ""
    which = "the one clear change is sure" if n_stand else "the one clear change is not sure"
    text = which if n_clear == 1 else f"{n_stand} of {n_clear} clear changes are sure"
    return f"All looked at together, {text} (about 1 in 10 sure ones is luck)."


JOINER = "\N{WORD JOINER}"
_BEGINS = (
    r"(?<=http:)(?=//)|(?<=https:)(?=//)|(?<=www)(?=\.)|(?=@)"  # an address or e-mail
    r"|(?<=:)(?=[^\W\d]|[+\-]|100|1234|[\w+\-/]+:)"  # :smile: and :material/home:, though the end come from us
    r"|(?<=[-<>~=])(?=[-<>~=])"  # arrows and dashes made of signs
)


# what Markdown draws otherwise wherever it stands, and at the beginning of a line
_DRAWN = re.compile(r"[\\`*_\[\]<>{}$~!#|&^=]|->|:\w|\w:\w|^[-+.:]|^\d+[.)]")


def verbatim(text: str) -> str:
    r"""The text, whoever wrote it, as Markdown that shows it as it came: no link, image, formula, icon or colour.

    A backslash is not enough: addresses, e-mails, :smile: and -> are looked for in the text that Markdown leaves. What
    begins them is kept apart by a word joiner, which has no width and no place to break a line at.

    >>> verbatim("1*2 $5, a/b")
    '1\\*2 \\$5, a/b'
    >>> verbatim("see https://a.example") == r"see https\:" + JOINER + r"//a\.example"
    True
    """
    one_line = re.sub(r"[\s\x00-\x1f\x7f]+", " ", text).strip(" ") if text.strip() else ""
    apart = re.sub(_BEGINS, JOINER, one_line, flags=re.IGNORECASE)
    return re.sub(r"([!#-&*+\-.:<-@\[-`{-~])", r"\\\1", apart)


def field_label(text: str) -> str:
    r"""The text for the label of a field, which a screen reader reads letter by letter with its backslashes.

    A text that is no Markdown goes as it came; only one that would be drawn as something else is escaped.

    >>> field_label("Target (lb)"), field_label("Trap-bar deadlift, 1RM: trial 1.5")
    ('Target (lb)', 'Trap-bar deadlift, 1RM: trial 1.5')
    >>> field_label("*a*"), field_label("1. a")
    ('\\*a\\*', '1\\. a')
    """
    plain = " ".join(text.split())
    safe = plain.isprintable() and not re.search(_BEGINS, plain, flags=re.IGNORECASE)
    return plain if safe and not _DRAWN.search(plain) else verbatim(text)


def joined(parts: list[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} and {parts[-1]}"
