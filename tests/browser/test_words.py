"""How hard the first sight of every screen reads, and that no word of statistics stands there."""

from __future__ import annotations

import pytest

from latewood.dashboard.screens.registry import SCREENS
from tests.tools.words import STATISTICS, read_screens, sentences_of

AIM = {"case": 10.0}  # names of measures with their conditions; everywhere else
USUAL = 9.0


@pytest.fixture(scope="module")
def read(machine_browser, address, demo_root):
    from tests.tools.words import one_of_each

    return {one.screen.key: one for one in read_screens(machine_browser, address, one_of_each(demo_root))}


@pytest.mark.parametrize("screen", [one.key for one in SCREENS])
def test_the_first_sight_of_a_screen_reads_easily_and_without_statistics(read, screen) -> None:
    one = read[screen]
    assert one.level <= AIM.get(screen, USUAL), one.hardest
    assert one.statistics == ()


def test_enough_sentences_were_read(read) -> None:
    assert sum(len(one.sentences) for one in read.values()) > 100


@pytest.mark.parametrize(
    "text",
    ["A 95 % interval.", "The log of it.", "It is p < 0.05.", "Kappa is 0.4.", "It is 1.2345.", "The σ."],
)
def test_words_of_statistics_are_found(text) -> None:
    assert STATISTICS.search(text)


def test_plain_sentences_hold_none_and_are_told_apart() -> None:
    text = "It gained 1.5 mph (+0.3 to +2.8). A catalogue, a blog, a step up. Good!"
    assert not STATISTICS.search(text)
    assert sentences_of([text]) == (
        "It gained 1.5 mph (+0.3 to +2.8).",
        "A catalogue, a blog, a step up.",
        "Good!",
    )
