"""The family page as a sheet of at most two sides, and as one self-contained web page for the phone."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from html import escape
from importlib.resources import files

from latewood.pipeline.pages.family.page import FamilyPage, Part, RailLine
from latewood.pipeline.pages.recruit.web import POLICY
from latewood.pipeline.pages.typeset import Layout, typeset

LAYOUT = Layout(path="family/family.typ", sizes=((11.0, 0.0), (10.5, 0.0), (10.0, 0.0), (9.5, 0.0)), sheets=2)


def render_pdf(page: FamilyPage, made_on: date, paper: str = "letter") -> bytes:
    """Return the page as a PDF of at most two sheets; raises SummaryError where it does not fit."""
    content = {**asdict(page), "title": f"{page.kind}: {page.name}"}
    return typeset(LAYOUT, content, made_on, paper)


def render_web(page: FamilyPage) -> str:
    """Return the page as HTML without scripts and without anything from elsewhere; every text is escaped."""
    style = (files("latewood.pipeline.pages.family") / "family.css").read_text(encoding="utf-8")
    banner = f'<p class="banner">{escape(page.banner)}</p>' if page.banner else ""
    return "\n".join((
        '<!DOCTYPE html>', '<html lang="en"><head><meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<meta name="robots" content="noindex, nofollow"><meta name="referrer" content="no-referrer">',
        f"<title>{escape(page.kind)}</title><style>{style}</style></head><body><main>", banner,
        f'<p class="program"><bdi>{escape(page.program)}</bdi></p><p class="quiet">{escape(page.kind)}</p>',
        f"<h1><bdi>{escape(page.name)}</bdi></h1><p>{escape(page.facts)}</p>",
        f'<p class="quiet">{escape(page.key)}</p>', *(_part(part) for part in page.parts),
        *(f"<p>{escape(words)}</p>" for words in page.body),
        f"<h2>{escape(page.next_head)}</h2>", *(f"<p>{escape(words)}</p>" for words in page.steps if words),
        f"<h2>{escape(page.care_head)}</h2><ul>", *(f"<li>{escape(words)}</li>" for words in page.cares), "</ul>",
        f'<p class="contact">{escape(page.contact)}</p><footer>{escape(page.provenance)}</footer>',
        "</main></body></html>", "",
    ))  # fmt: skip


def _part(part: Part) -> str:
    return f"<h2>{escape(part.head)}</h2>{''.join(_rail(line) for line in part.lines)}"


def _rail(line: RailLine) -> str:
    plain = f' <span class="quiet">{escape(line.plain)}</span>' if line.plain else ""
    chart = line.chart.replace("<svg ", f'<svg role="img" aria-label="{escape(line.chart_alt)}" ', 1)
    return (
        f'<div class="rail"><h3>{escape(line.name)}</h3>{plain}{chart}<p>{escape(line.sentence)}</p>'
        f'<p class="quiet">{escape(line.days)}</p></div>'
    )
