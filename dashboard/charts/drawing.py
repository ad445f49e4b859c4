"""Small parts of a drawing made of styled blocks placed by shares of the width.

The page's HTML element lets no SVG through; blocks take their colours from style.css, so that light and dark
need no second drawing, and stretch with their place.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from latewood.dashboard.text.plain_reasons import plain_reason


def safe(text: str) -> str:
    """The text with everything escaped that could be read as markup."""
    return escape(text, quote=True)


def percent(share: float) -> str:
    """A share of the width as a length, kept inside the drawing.

    >>> percent(0.25), percent(1.5)
    ('25.00%', '100.00%')
    """
    return f"{min(1.0, max(0.0, share)) * 100:.2f}%"


def span(start: float, end: float, style: str) -> str:
    """A block or a thick line from one share of the width to another."""
    first, last = sorted((min(1.0, max(0.0, start)), min(1.0, max(0.0, end))))
    return f'<i class="lw-d {style}" style="left:{first * 100:.2f}%;width:{(last - first) * 100:.2f}%"></i>'


def mark(at: float, style: str) -> str:
    """A shape (circle, diamond, cross, upright rule: its style says which) at a share of the width."""
    return f'<i class="lw-d {style}" style="left:{percent(at)}"></i>'


def picture(inner: str, alt: str) -> str:
    """One drawing as wide as its place, with its text alternative."""
    return f'<div class="lw-pic" role="img" aria-label="{safe(alt)}">{inner}</div>'


def refused(reason: str) -> str:
    """Why something is not shown, plainly; the exact reason at a tap."""
    plain = plain_reason(reason)
    return exact(f"Not shown. {plain}", [reason] if plain != reason else [])


def exact(plain: str, lines: Iterable[str]) -> str:
    """A plain line; the exact statement, one small line each, opens below it at a tap."""
    below = "".join(f'<span class="lw-small">{safe(text)}</span>' for text in lines if text)
    if not below:
        return f'<span class="lw-small">{safe(plain)}</span>' if plain else ""
    return f'<details class="lw-exact"><summary>{safe(plain)}</summary>{below}</details>'
