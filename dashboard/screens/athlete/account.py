"""The blocks of the athlete page that explain: the account of a change, and the part growth may have."""

from __future__ import annotations

from latewood.dashboard.charts.account import account_sheet
from latewood.dashboard.charts.ledger import ledger_sheet
from latewood.dashboard.reads import warehouse
from latewood.dashboard.reads.rows import Stay
from latewood.dashboard.screens import parts
from latewood.dashboard.text import cautions, empties
from latewood.dashboard.views.athlete.growth import growth_sentences
from latewood.dashboard.views.athlete.ledger import build_ledgers
from latewood.dashboard.views.athlete.mass_link import build_accounts
from latewood.dashboard.views.athlete.strength_link import relative_sentences
from latewood.dashboard.views.athlete.timeline import Record


def growth(opened: parts.Opened, athlete_id: str, stay: Stay) -> None:
    """What of the added mass fits growth, with its caution; nothing for adults."""
    words = growth_sentences(warehouse.athlete_growth(opened.build, athlete_id), stay.stay_id, opened.lookup)
    for sentence in words:
        parts.words(sentence)
    if words:
        parts.caution(cautions.GROWTH)


def account(opened: parts.Opened, record: Record, stay: Stay) -> None:
    """The account of the change in the line picked; strength and refusals in folds."""
    parts.section("The account of a change")
    lookup, program = opened.lookup, warehouse.mass_links(opened.build)
    rows = warehouse.athlete_account(opened.build, stay.athlete_id)
    ledgers = build_ledgers(rows, program, record.trends, stay.stay_id, lookup)
    links = warehouse.athlete_links(opened.build, stay.athlete_id)
    others = build_accounts(links, program, stay.stay_id, lookup)
    if not ledgers and not others:
        parts.empty(empties.NO_LINK)
        return
    books = {ledger.key: ledger for ledger in ledgers}
    if books:
        names = parts.named({key: ledger.name for key, ledger in books.items()})
        key = parts.pick("Change in", list(books), next(iter(books)), names, key=f"account_{stay.stay_id}")
        parts.sheet(ledger_sheet(books[key or next(iter(books))]))
    strength = [one for one in others if not one.refusal and one.family == "strength"]
    parts.folded("Strength beside added mass", strength, account_sheet, "account_strength")
    parts.folded("No account", [one for one in others if one.refusal], account_sheet, "account_refused")
    parts.caution(cautions.ASSOCIATION, cautions.OWN_RATE)


def relative(opened: parts.Opened, athlete_id: str, stay: Stay) -> None:
    """Strength for body size over the stay, described and not judged; nothing without a lift."""
    result = warehouse.athlete_relative_strength(opened.build, athlete_id)
    words = relative_sentences(result, stay.stay_id, opened.lookup)

    def inside() -> None:
        parts.bullets(words)
        parts.caution(cautions.BODY_SIZE)

    if words:
        parts.on_opening("Strength for body size", "account_relative", inside)
