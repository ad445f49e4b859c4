"""The page as one self-contained web page: no script, nothing from elsewhere, readable on a phone and in print."""

from __future__ import annotations

from html import escape
from html.parser import HTMLParser
from importlib.resources import files

from latewood.pipeline.pages.recruit.page import HEAD_CAPTIONS, HEADS, Cell, LargeMeasure, Page, Row

POLICY = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"


def render_web(page: Page) -> str:
    """Return the page as HTML. Every text is escaped, and names stand isolated from the direction around them."""
    style = (files("latewood.pipeline.pages.recruit") / "page.css").read_text(encoding="utf-8")
    title = escape(f"{page.kind}: {page.name}")
    banner = f'<p class="banner">{escape(page.banner)}</p>' if page.banner else ""
    return "\n".join((
        '<!DOCTYPE html>', '<html lang="en"><head><meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<meta name="robots" content="noindex, nofollow"><meta name="referrer" content="no-referrer">',
        f"<title>{title}</title><style>{style}</style></head><body><main>", banner,
        f'<div class="code">{_labelled(page.code, page.code_alt)}</div>',
        f'<header><p class="program"><bdi>{escape(page.program)}</bdi></p><p class="kind">{escape(page.kind)}</p>',
        f'<p class="kind stamp">{escape(page.stamp)}</p>',
        f"<h1><bdi>{escape(page.name)}</bdi></h1>",
        f'<p class="facts">{escape(page.facts)}</p>' if page.facts else "",
        "</header>", *(f'<p class="size">{escape(words)}</p>' for words in page.sizes),
        *(
            f'<p class="stated"><span>{escape(one.mark)}</span> <bdi>{escape(one.text)}</bdi></p>'
            for one in page.stated
        ),
        *(_head(head) for head in page.heads), _table(page),
        f'<p class="shown">{escape(page.shown)}</p>', *(f'<p class="note">{escape(n)}</p>' for n in page.notes),
        f'<p class="contact">{escape(page.contact)}</p>', "<footer>",
        *(f"<p>{escape(words)}</p>" for words in page.provenance), "</footer></main></body></html>", "",
    ))  # fmt: skip


def _head(head: LargeMeasure) -> str:
    charts = ("", "", _chart(head), "")
    cells = "".join(
        f'<div class="cell"><p class="caption">{escape(caption)}</p>{_words(cell)}{chart}</div>'
        for caption, cell, chart in zip(HEAD_CAPTIONS, head.cells, charts, strict=True)
    )
    notes = "".join(f'<p class="note">{escape(words)}</p>' for words in head.notes)
    return (
        f'<section class="head"><h2>{escape(head.name)}</h2><p class="method">{escape(head.method)}</p>'
        f'<div class="cells">{cells}</div>{notes}</section>'
    )


def _table(page: Page) -> str:
    if not page.rows:
        return ""
    heads = "".join(f'<th scope="col">{escape(head)}</th>' for head in HEADS)
    return (
        f'<h2 class="more-head"><bdi>{escape(page.more)}</bdi></h2><table><thead><tr>{heads}</tr></thead><tbody>'
        f"{''.join(_row(row) for row in page.rows)}</tbody></table>"
    )


def _row(row: Row) -> str:
    cells = [
        f'<th scope="row">{_words(row.cells[0])}</th>',
        *(
            f'<td data-head="{escape(head)}"><div class="with"><div>{_words(cell)}</div>'
            f"{_chart(row) if at == 3 else ''}</div></td>"
            for at, (head, cell) in enumerate(zip(HEADS[1:], row.cells[1:], strict=True), start=1)
        ),
    ]
    note = f'<tr class="more"><td colspan="5">{escape(row.note)}</td></tr>' if row.note else ""
    return f"<tr{' class=old' if row.old else ''}>{''.join(cells)}</tr>{note}"


def _words(cell: Cell) -> str:
    quiet = "".join(f"<span>{escape(words)}</span>" for words in cell.quiet)
    return f"<b>{escape(cell.strong)}</b>{quiet}"


def _chart(row: Row | LargeMeasure) -> str:
    if not row.chart:
        return ""
    return _labelled(row.chart, row.chart_alt)


def _labelled(drawing: str, words: str) -> str:
    return drawing.replace("<svg ", f'<svg role="img" aria-label="{escape(words)}" ', 1)


class _Text(HTMLParser):
    """Collects what a reader sees: the text of the body."""

    def __init__(self) -> None:
        super().__init__()
        self.parts: list[str] = []
        self._hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Leave out what is never shown."""
        self._hidden += tag in {"style", "title", "script"}

    def handle_endtag(self, tag: str) -> None:
        """Show again after it."""
        self._hidden -= tag in {"style", "title", "script"}

    def handle_data(self, data: str) -> None:
        """Keep one stretch of text."""
        if not self._hidden and data.strip():
            self.parts.append(data.strip())


def web_text(content: str) -> list[str]:
    """The texts of a web page in the order of the file."""
    reader = _Text()
    reader.feed(content)
    reader.close()
    return reader.parts
