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


def test_words_of_statistics_are_found() -> None:
    for text in (
        "A 95 % interval.",
        "The log of it.",
        "p < 0.05.",
        "Kappa is 0.4.",
        "It is 1.2345.",
        "The σ.",
    ):
        assert STATISTICS.search(text.lower() if "Kappa" in text else text), text
    assert not STATISTICS.search("The audit log book of a linebacker.".replace("log ", "diary "))
    assert sentences_of(["It gained 1.5 mph. Good!"]) == ("It gained 1.5 mph.", "Good!")
