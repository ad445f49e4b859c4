"""Units with exact factors, the ways files spell them, and conversion between them."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType

from latewood.pipeline.errors import CatalogueError

# International yard and pound agreement of 1959, as printed in NIST Special Publication 811 (2008),
# appendix B.8: all of these are exact.
KG_PER_LB = Fraction("0.45359237")
CM_PER_INCH = Fraction("2.54")
CM_PER_FOOT = 12 * CM_PER_INCH
CM_PER_YARD = 3 * CM_PER_FOOT
MPS_PER_MPH = Fraction("0.44704")
MPS_PER_KMH = Fraction(5, 18)
# A radian has no rational number of degrees; this is the nearest double to 180/pi.
DEGREES_PER_RADIAN = Fraction(math.degrees(1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One unit: `factor` times a value in it gives the value in the base unit of its quantity."""

    symbol: str
    quantity: str
    factor: Fraction
    spellings: tuple[str, ...]
    shown: str  # as printed after a number; empty for counts and ratings


def _unit(
    symbol: str, quantity: str, factor: Fraction | int, spellings: str, shown: str | None = None
) -> Unit:
    return Unit(
        symbol=symbol,
        quantity=quantity,
        factor=Fraction(factor),
        spellings=tuple(spellings.split("|")),
        shown=symbol if shown is None else shown,
    )


_DECLARED = (
    _unit("kg", "mass", 1, "kgs|kilo|kilos|kilogram|kilograms|kilogramme|kilogrammes"),
    _unit("g", "mass", Fraction(1, 1000), "gram|grams|gr|gramme|grammes"),
    _unit("lb", "mass", KG_PER_LB, "lbs|pound|pounds|#"),
    _unit("oz", "mass", KG_PER_LB / 16, "ounce|ounces"),
    _unit("cm", "length", 1, "cms|centimeter|centimeters|centimetre|centimetres"),
    _unit("mm", "length", Fraction(1, 10), "mms|millimeter|millimeters|millimetre|millimetres"),
    _unit("m", "length", 100, "meter|meters|metre|metres|mtr"),
    _unit("in", "length", CM_PER_INCH, "inch|inches|ins|\"|''"),
    _unit("ft", "length", CM_PER_FOOT, "foot|feet|'"),
    _unit("yd", "length", CM_PER_YARD, "yard|yards|yds"),
    _unit("s", "time", 1, "sec|secs|second|seconds"),
    _unit("ms", "time", Fraction(1, 1000), "msec|msecs|millisecond|milliseconds"),
    _unit("min", "time", 60, "mins|minute|minutes"),
    _unit("m/s", "speed", 1, "mps|m/sec|ms-1|metres per second|meters per second"),
    _unit("km/h", "speed", MPS_PER_KMH, "kph|kmh|kmph|km/hr|kmhr|kilometers per hour|kilometres per hour"),
    _unit("mph", "speed", MPS_PER_MPH, "mi/h|mi/hr|miles/h|miles/hour|miles per hour"),
    _unit("ft/s", "speed", CM_PER_FOOT / 100, "fps|ft/sec|feet per second"),
    _unit("deg", "angle", 1, "°|degs|degree|degrees"),
    _unit("rad", "angle", DEGREES_PER_RADIAN, "rads|radian|radians"),
    _unit("deg/s", "rotational speed", 1, "°/s|°/sec|dps|deg/sec|degs/s|degrees/s|degrees per second"),
    _unit("rad/s", "rotational speed", DEGREES_PER_RADIAN, "rad/sec|rads/s|radians/s|radians per second"),
    _unit("rpm", "rotational speed", 6, "rev/min|r/min|revolutions per minute"),
    _unit("%", "share", 1, "pct|percent|per cent"),
    _unit("1", "count", 1, "count|counts|rep|reps|repetition|repetitions|number", ""),
    _unit("rating", "rating", 1, "grade|level|score", ""),
)

UNITS: Mapping[str, Unit] = MappingProxyType({unit.symbol: unit for unit in _DECLARED})

_TYPOGRAPHY = str.maketrans({
    "’": "'", "‘": "'", "′": "'", "´": "'", "`": "'", "“": '"', "”": '"', "″": '"', "º": "°", "˚": "°",
    "⁻": "-", "−": "-", "¹": "1", "·": " ", "⋅": " ", "\u00a0": " ", "\u202f": " ",
})  # fmt: skip


def _folded(text: str) -> str:
    """The text in one plain form: straight quotes, lower case, no spaces, no dots, no brackets."""
    plain = text.translate(_TYPOGRAPHY).casefold()
    return re.sub(r"[\s.()\[\]]", "", plain)


_SPELLED: Mapping[str, Unit] = MappingProxyType({
    _folded(spelling): unit for unit in _DECLARED for spelling in (unit.symbol, *unit.spellings)
})

_SHOWN_IN: Mapping[str, Mapping[str, str]] = MappingProxyType({
    "us": MappingProxyType({"kg": "lb", "cm": "in", "m": "ft", "m/s": "mph"}),
    "metric": MappingProxyType({"m/s": "km/h"}),
})


def find_unit(text: str) -> Unit | None:
    """The unit a file means by `text` ('lbs', 'LB', 'kph', 'sec.', '\"'), or None where nobody knows.

    >>> find_unit("LBS.").symbol
    'lb'
    >>> find_unit("furlong") is None
    True
    """
    return _SPELLED.get(_folded(text))


@lru_cache(maxsize=1024)
def linear(from_unit: str, to_unit: str) -> float:
    """The factor that turns a number in `from_unit` into one in `to_unit` (symbols or spellings).

    Raises CatalogueError where a unit is unknown or the two measure different quantities.

    >>> linear("mph", "m/s")
    0.44704
    """
    source, target = _known(from_unit), _known(to_unit)
    if source.quantity != target.quantity:
        raise CatalogueError(
            f"unit '{from_unit}': cannot convert {source.symbol} ({source.quantity}) "
            f"to {target.symbol} ({target.quantity}); accepted: {', '.join(_of_quantity(target.quantity))}; "
            f"state the unit the number was measured in"
        )
    return float(source.factor / target.factor)


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """The value in `to_unit`; raises CatalogueError as `linear` does.

    >>> convert(90.0, "mph", "m/s")
    40.2336
    """
    return value * linear(from_unit, to_unit)


def display_unit(canonical: str, system: str) -> str:
    """The unit in which people of one system, 'us' or 'metric', read a canonical unit.

    >>> display_unit("m/s", "us"), display_unit("m/s", "metric"), display_unit("s", "us")
    ('mph', 'km/h', 's')
    """
    if system not in _SHOWN_IN:
        raise CatalogueError(
            f"unit system: unknown (got '{system}'; accepted: {', '.join(_SHOWN_IN)}); choose one of them"
        )
    return _SHOWN_IN[system].get(_known(canonical).symbol, canonical)


def display_decimals(resolution: float, unit: str, decimals: int, shown: str) -> int:
    """The number of decimals to print in the unit `shown` for a measure of that resolution and unit.

    In its own unit a measure prints its declared `decimals`; elsewhere the last printed digit is the power of
    ten nearest to the instrument's resolution, never below 0 decimals.

    >>> display_decimals(0.1, "kg", 1, "lb"), display_decimals(2.5, "kg", 1, "lb")
    (1, 0)
    """
    step = resolution * linear(unit, shown)
    return decimals if unit == shown else max(0, round(-math.log10(step)))


_NUMBER = r"\d+(?:\.\d+)?"
_FEET_INCHES = re.compile(
    rf"""(?P<feet>[1-9])\s*(?:'|ft\.?|feet|foot|-)\s*
         (?P<inches>{_NUMBER})?\s*(?:(?P<top>\d)/(?P<bottom>[248]))?\s*(?:"|''|in|ins|inch|inches)?""",
    re.VERBOSE,
)
_QUARTERS = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4"}
_PLAIN_LENGTH = re.compile(rf"(?P<number>{_NUMBER})\s*(?P<unit>[a-z\"']+)")


@lru_cache(maxsize=65536)  # a long column holds few texts
def parse_length(text: str) -> float | None:
    """The length in cm that a text with feet and inches, or one number with its unit, means; else None.

    Reads 5'11", 5' 10 1/2", 5-11, 5 ft 11 in, 6', 71 in, 180 cm and 1.80 m. A bare number is not read: its
    unit is not known. Twelve inches and more after feet are not read either.

    >>> parse_length("5-11"), parse_length("1.80 m"), parse_length("180") is None
    (180.34, 180.0, True)
    """
    plain = text.translate(_TYPOGRAPHY).casefold().strip().rstrip(".")
    plain = re.sub("[½¼¾]", lambda sign: _QUARTERS[sign[0]], plain)
    result = _FEET_INCHES.fullmatch(plain)
    if result is not None:
        return _feet_and_inches(result, plain)
    single = _PLAIN_LENGTH.fullmatch(plain)
    unit = find_unit(single["unit"]) if single is not None else None
    if single is None or unit is None or unit.quantity != "length":
        return None
    return float(Fraction(single["number"]) * unit.factor)


def _feet_and_inches(found: re.Match[str], plain: str) -> float | None:
    inches = Fraction(found["inches"] or 0)
    if found["top"] is not None:
        inches += Fraction(int(found["top"]), int(found["bottom"]))
    if inches >= 12 or plain.endswith("-"):
        return None
    return float(int(found["feet"]) * CM_PER_FOOT + inches * CM_PER_INCH)


def _known(text: str) -> Unit:
    unit = UNITS.get(text) or find_unit(text)
    if unit is None:
        raise CatalogueError(
            f"unit: unknown (got '{text}'; accepted: {', '.join(UNITS)}); write one of these"
        )
    return unit


def _of_quantity(quantity: str) -> tuple[str, ...]:
    return tuple(unit.symbol for unit in _DECLARED if unit.quantity == quantity)
