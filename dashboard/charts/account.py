"""The account: what was observed, what goes with added mass, what is unexplained, one bar each from zero."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.charts.drawing import exact, mark, picture, refused, safe, span
from latewood.dashboard.views.athlete.mass_link import Account, Amount


def account_sheet(accounts: Iterable[Account]) -> str:
    """All accounts of a stay."""
    return "".join(_account(account) for account in accounts)


def _account(account: Account) -> str:
    if account.refusal:
        return (
            f'<div class="lw-block"><div class="lw-name">{safe(account.name)}</div>'
            f'<div class="lw-words lw-refused">{refused(account.refusal)}</div></div>'
        )
    reach = max(max(abs(row.low), abs(row.high)) for row in account.rows) or 1.0
    rows = "".join(amount_row(row, account.name, reach) for row in account.rows)
    return (
        f'<div class="lw-block"><div class="lw-name">{safe(account.name)}</div><div>{rows}'
        f'<p class="lw-sentence">{safe(account.sentence)}</p>{exact("What this rests on", [account.basis])}</div></div>'
    )


def amount_row(row: Amount, name: str, reach: float) -> str:
    """One amount as a bar from zero with its interval, and in words; `reach` is half the width of the drawing."""
    at, low, high = (0.5 + value / reach * 0.46 for value in (row.value, row.low, row.high))
    drawing = picture(
        span(0.0, 1.0, "lw-track")
        + mark(0.5, "lw-zero")
        + span(low, high, "lw-whisker")
        + span(0.5, at, "lw-move")
        + mark(at, "lw-now"),
        f"{name}, {row.words}: {row.amount} ({row.interval})",
    )
    return (
        f'<div class="lw-row lw-account"><div class="lw-part">{safe(row.words)}</div><div>{drawing}</div>'
        f'<div class="lw-words"><b>{safe(row.amount)}</b> ({safe(row.interval)})</div></div>'
    )
