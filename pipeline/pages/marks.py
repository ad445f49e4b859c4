"""The marks that every drawing of a printed page is made of, as SVG without words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

INK, OCHRE, SLATE, TAPE = "#22262b", "#a66a00", "#5c6b7a", "#ddd7c8"


@dataclass(frozen=True, slots=True)
class Pen:
    """A colour and how wide it draws, in units of the drawing."""

    colour: str
    width: float


def picture(parts: Iterable[str], width: float, height: float) -> str:
    """The whole drawing, in units of its own width and height."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" '
        f'width="{width:g}" height="{height:g}">{"".join(parts)}</svg>'
    )


def line(x1: float, y1: float, x2: float, y2: float, pen: Pen) -> str:
    """A straight line."""
    return (
        f'<line x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" '
        f'stroke="{pen.colour}" stroke-width="{pen.width}"/>'
    )


def diamond(x: float, y: float, r: float) -> str:
    """A filled diamond: what is now, or a mean."""
    corners = ((x - r, y), (x, y - r), (x + r, y), (x, y + r))
    return f'<path d="M{" L".join(f"{a:.2f} {b:.2f}" for a, b in corners)} Z" fill="{INK}"/>'


def ring(x: float, y: float, r: float, pen: Pen, fill: str = "none") -> str:
    """A hollow circle."""
    return (
        f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{r}" fill="{fill}" '
        f'stroke="{pen.colour}" stroke-width="{pen.width}"/>'
    )


def cross(x: float, y: float, r: float = 2.2) -> str:
    """A cross: somebody who left early, or a plain difference."""
    return line(x - r, y - r, x + r, y + r, Pen(INK, 1.1)) + line(x - r, y + r, x + r, y - r, Pen(INK, 1.1))
