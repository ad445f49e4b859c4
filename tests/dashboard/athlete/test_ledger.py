import itertools
from dataclasses import replace
from datetime import date

import pytest
from made import STAY, TEE, TREND, lookup

from latewood.dashboard.charts.ledger import NONE, ledger_sheet
from latewood.dashboard.views.athlete.growth import growth_sentences
from latewood.dashboard.views.athlete.ledger import WORDS, build_ledgers
from latewood.pipeline.stats.growth.results import GrowthShare
from latewood.pipeline.stats.links.results import AccountRow, MassLink

PROGRAM = MassLink(
    scope="program", measure="exit_speed", line=TEE, adjustment="time", per_kg=0.11, standard_error=0.04, low=0.03,
    high=0.19, between_per_kg=0.2, n_athletes=55, n_sessions=300, inflation=2.0, time_form="linear",
    verdict="estimated", reason="", level=0.95, method="test",
)  # fmt: skip
AMOUNTS = {
    "start": (33.0, 0.5, ""),
    "time": (0.7, 0.3, "growth and practice, which cannot be separated"),
    "learning": (0.25, 0.2, "travel and a poor first day are in it"),
    "mass": (0.75, 0.4, "mass, with what strength brings along"),
    "strength": (None, None, "within mass: strength cannot be held constant here"),
    "unexplained": (0.5, 1.2, "own pace"),
    "end": (35.2, 0.6, ""),
}
GROWN = GrowthShare(
    athlete_id="T1", stay_id="T1@K", span="stay", first_on=date(2032, 6, 2), last_on=date(2032, 8, 11), n_heights=3,
    height_change=3.1, height_low=2.5, height_high=3.7, gained=4.0, gained_low=3.4, gained_high=4.6, fits_growth=3.1,
    fits_low=2.4, fits_high=3.8, by_age=2.9, beyond=0.9, beyond_low=0.1, beyond_high=1.7, verdict="shown", reason="",
    level=0.95, method="test",
)  # fmt: skip


def account(**changes) -> list[AccountRow]:
    amounts = AMOUNTS | changes
    return [
        AccountRow(
            athlete_id="T1", stay_id="T1@K", measure="exit_speed", line=TEE, position=k, row=name, amount=value,
            low=None if value is None else value - half, high=None if value is None else value + half,
            bracket=bracket, mass_change=3.5 if name == "mass" else None, n_sessions=5, level=0.95, method="test",
        )
        for k, (name, (value, half, bracket)) in enumerate(amounts.items())
    ]  # fmt: skip


def ledger(rows=None, system="metric"):
    return build_ledgers(rows or account(), [PROGRAM], [TREND], STAY.stay_id, lookup(system))[0]


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u2212", "-")


def test_the_book_has_every_line_in_order_and_begins_each_where_the_last_ended() -> None:
    entries = ledger().entries
    assert [entry.words for entry in entries] == list(WORDS.values())
    assert plain(entries[0].amount) == "118.8 km/h"
    assert plain(entries[1].amount) == "+2.5 km/h"
    given = [entry for entry in entries if entry.amount]
    for before, after in itertools.pairwise(given[:-1]):
        assert after.begin == pytest.approx(before.end)
    assert given[-1].end == pytest.approx(given[-2].end)
    assert all(0.0 < entry.low <= entry.end <= entry.high < 1.0 for entry in given)


def test_what_cannot_be_told_apart_stands_in_one_bracket_and_has_no_number() -> None:
    entries = {entry.words: entry for entry in ledger().entries}
    assert entries["Goes with added mass"].joined
    assert entries["Goes with added strength"].joined
    assert not entries["Time in the program"].joined
    assert entries["Goes with added strength"].amount == ""
    drawn = ledger_sheet(ledger())
    assert "within mass: strength cannot be held constant here" in drawn
    assert drawn.count(f"<b>{NONE}</b>") == 1
    untold = account(learning=(None, None, "within time: too few"), time=(0.95, 0.3, "all of it"))
    joined = {entry.words: entry.joined for entry in ledger(untold).entries}
    assert joined["Time in the program"]
    assert joined["Learning the test"]
    left_out = account(learning=(None, None, "the first test day is not in this change"))
    assert not {entry.words: entry.joined for entry in ledger(left_out).entries}["Learning the test"]


def test_the_sentence_gives_the_share_and_says_neither_cause_nor_more_than_is_known() -> None:
    book = ledger(system="us")
    assert plain(book.sentence) == (
        "About +1.7 of +4.9 mph goes with the mass added over the same test days (+7.7 lb) and strength. The rest "
        "goes with time, practice and learning the test, or has no known reason."
    )
    text = f"{book.sentence} {book.basis} {ledger_sheet(book)}".lower()
    assert not any(word in text for word in ("because", "caused", "due to", "thanks to", "effect of"))
    assert "went with" in text
    assert "5 sessions of this athlete" in plain(book.basis)
    assert "add up before rounding" in book.basis


def test_a_mass_part_of_the_other_sign_is_not_called_a_share() -> None:
    sentence = plain(ledger(account(mass=(-0.3, 0.5, "")), "us").sentence)
    assert sentence.startswith("The change is +4.9 mph; -0.7 mph goes with the mass added over")
    assert "it could be nothing" in sentence


def test_strength_with_a_line_of_its_own_counts_in_the_share() -> None:
    apart = account(strength=(0.25, 0.2, ""), mass=(0.5, 0.2, "mass at equal strength"))
    assert plain(ledger(apart, "us").sentence).startswith(
        "About +1.7 of +4.9 mph goes with the mass added over"
    )
    assert not any(entry.joined for entry in ledger(apart).entries)


def test_the_page_says_where_the_change_reads_otherwise() -> None:
    assert "the change reads +4.7 km/h" in plain(ledger().basis)
    same = replace(TREND, change=2.2)
    book = build_ledgers(account(), [PROGRAM], [same], STAY.stay_id, lookup())[0]
    assert "reads" not in book.basis


def test_accounts_of_other_stays_and_unknown_measures_are_not_shown() -> None:
    assert build_ledgers(account(), [PROGRAM], [TREND], "T9@K", lookup()) == ()
    unknown = [replace(row, measure="juggling") for row in account()]
    assert build_ledgers(unknown, [], [], STAY.stay_id, lookup()) == ()


def test_growth_is_a_share_where_it_is_less_than_the_gain() -> None:
    (text,) = growth_sentences([GROWN], "T1@K", lookup())
    assert plain(text) == (
        "In this stay height changed by +3.1 cm; of +4.0 kg about +3.1 kg fits growth in height and age "
        "(+2.4 to +3.8; by weight for age alone +2.9 kg)."
    )


def test_growth_that_fits_more_than_was_gained_is_said_as_such() -> None:
    less = replace(GROWN, span="all stays", gained=1.6, fits_growth=2.1, by_age=1.9)
    (text,) = growth_sentences([less], "T1@K", lookup())
    assert "Since 2 Jun 2032" in text
    assert "mass changed by +1.6 kg, growth in height and age fits about +2.1 kg" in plain(text)


APART = replace(GROWN, fits_growth=5.8, fits_low=5.1, fits_high=6.5, by_age=3.0, beyond=-1.8)


@pytest.mark.parametrize(
    ("gained", "beyond", "side"),
    [
        (4.0, -1.8, "Whether the gain is more or less than growth fits is not known."),
        (8.0, 2.2, "The gain is more than growth fits either way."),
        (1.0, -4.8, "The gain is less than growth fits either way."),
        (6.0, 0.2, "Whether the gain is more or less than growth fits is not known."),
    ],
)
def test_conventions_that_differ_are_both_given_and_sides_taken_only_where_both_agree(
    gained, beyond, side
) -> None:
    share = replace(
        APART, gained=gained, gained_low=gained - 0.6, gained_high=gained + 0.6, beyond=beyond,
        beyond_low=beyond - 0.9, beyond_high=beyond + 0.9,
    )  # fmt: skip
    text = plain(growth_sentences([share], "T1@K", lookup())[0])
    assert "fits between +3.0 kg and +5.8 kg" in text
    assert "+5.8 kg keeps the percentile of body mass index for age" in text
    assert "+3.0 kg that of weight for age" in text
    assert text.endswith(side)


def test_a_refused_share_gives_its_reason_and_no_number() -> None:
    refused = replace(
        GROWN, verdict="refused", fits_growth=None, reason="age is outside the growth reference"
    )
    assert growth_sentences([refused], "T1@K", lookup()) == (
        "What fits growth is not shown: age is outside the growth reference.",
    )
    both = growth_sentences([refused, replace(GROWN, span="all stays")], "T1@K", lookup())
    assert len(both) == 1
    assert both[0].startswith("Since")
    assert growth_sentences([GROWN], "T9@K", lookup()) == ()
