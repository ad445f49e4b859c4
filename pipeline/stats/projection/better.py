"""How likely a test day ahead shows more than the latest one."""

from __future__ import annotations

from scipy import special


def chance_above(value: float, low: float, high: float, level: float, than: float) -> float | None:
    """The chance that a projected test day lies above a value, all in its unit; None for an interval without width.

    The interval of `level` is taken as normal and the value as it was measured. Checked against the normal table of
    the NIST/SEMATECH e-Handbook, 1.3.6.7.1: 0.84134 lie below one SD.

    >>> round(chance_above(1.0, 1.0 - 1.959964, 1.0 + 1.959964, 0.95, 0.0), 5)
    0.84134
    """
    spread = (high - low) / 2.0 / float(special.ndtri(0.5 + level / 2.0))
    return float(special.ndtr((value - than) / spread)) if spread > 0.0 else None
