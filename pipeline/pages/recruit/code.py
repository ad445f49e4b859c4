"""The square code on a sheet: the whole number of the page and of the key, for a camera instead of sixteen digits."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import segno

from latewood.pipeline.errors import SummaryError

PREFIX: Final = "LATEWOOD:1"
ALT: Final = "Square code: the whole number of this page and of the program's key"
# Of the eight masks always this one: trying all takes longer than the rest of the code, and of 600 codes, small,
# blurred and turned, another library read 553 with it and 532 with the one that is best by the standard.
_MASK: Final = 4
_FORM = re.compile(r"LATEWOOD:1:([0-9A-F]{64}):([0-9A-F]{64})")


@dataclass(frozen=True, slots=True, kw_only=True)
class ScannedCode:
    """What a scanned code names: the hash of the page and the fingerprint of the key, 64 hexadecimal digits each."""

    page_hash: str
    fingerprint: str


def code_text(page_hash: str, fingerprint: str) -> str:
    """The text that a camera reads; capitals, so that the code stays small.

    >>> code_text("ab" * 32, "cd" * 32)[:16]
    'LATEWOOD:1:ABABA'
    """
    return f"{PREFIX}:{page_hash.upper()}:{fingerprint.upper()}"


@lru_cache(maxsize=64)
def code_drawing(text: str) -> str:
    """The code as SVG without a size of its own: QR (ISO/IEC 18004), version 6, a seventh of it may be unreadable."""
    out = io.BytesIO()
    made = segno.make(text, error="m", boost_error=False, micro=False, mask=_MASK)
    made.save(
        out, kind="svg", xmldecl=False, svgclass=None, lineclass=None, omitsize=True, nl=False, light="#fff"
    )
    return out.getvalue().decode()


def read_code(text: str) -> ScannedCode:
    """What a scanned text names. Raises SummaryError where it is no such code.

    >>> read_code(code_text("ab" * 32, "cd" * 32)).page_hash[:6]
    'ababab'
    """
    found = _FORM.fullmatch("".join(text.split()).upper())
    if found is None:
        raise SummaryError(
            f"--code {text[:40]!r}: is no code of a sheet; give all that the camera read, from {PREFIX}: on"
        )
    return ScannedCode(page_hash=found[1].lower(), fingerprint=found[2].lower())
