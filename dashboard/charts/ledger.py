"""The account book: each amount begins where the one before it ended, from the start to the end."""

from __future__ import annotations

from latewood.dashboard.charts.drawing import exact, mark, picture, safe, span
from latewood.dashboard.views.athlete.ledger import Entry, Ledger

NONE = "\u2014"
KEY = (
    "Each amount begins where the one before it ended; the thin line is its range. Lines with a bar at their left "
    "share one amount."
)


def ledger_sheet(ledger: Ledger) -> str:
    """One account: its lines, its sentence, what it rests on."""
    rows = "".join(_row(entry, ledger.name) for entry in ledger.entries)
    return (
        f'<p class="lw-sentence lw-account-sentence">{safe(ledger.sentence)}</p>'
        f'<p class="lw-key">{KEY}</p><div class="lw-book" role="list">{rows}</div>'
        f'<div class="lw-below">{exact("What this rests on", [ledger.basis])}</div>'
    )


def _row(entry: Entry, name: str) -> str:
    style = "lw-row lw-account lw-line" + (" lw-total" if entry.ends else "")
    joined = " lw-joined" if entry.joined else ""
    bracket = f'<span class="lw-small">{safe(entry.bracket)}</span>' if entry.bracket else ""
    interval = f" ({safe(entry.interval)})" if entry.interval else ""
    amount = f"<b>{safe(entry.amount)}</b>{interval}" if entry.amount else f"<b>{NONE}</b>"
    return (
        f'<div class="{style}" role="listitem"><div class="lw-part{joined}">{safe(entry.words)}{bracket}</div>'
        f'<div>{_drawing(entry, name)}</div><div class="lw-words">{amount}</div></div>'
    )


def _drawing(entry: Entry, name: str) -> str:
    if not entry.amount:
        return ""
    inner, whisker = span(0.0, 1.0, "lw-track"), span(entry.low, entry.high, "lw-whisker lw-over")
    if entry.ends:
        inner += whisker + mark(entry.end, "lw-start" if entry.words == "Start" else "lw-now")
    else:
        inner += span(entry.begin, entry.end, "lw-move") + mark(entry.begin, "lw-from")
        inner += whisker + mark(entry.end, "lw-unsure")
    return picture(inner, f"{name}, {entry.words}: {entry.amount} ({entry.interval})")
