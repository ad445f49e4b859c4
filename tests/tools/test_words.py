"""Words of statistics are found, and sentences told apart; test_every_screen.py reads every screen's first sight."""

from __future__ import annotations

import pytest

from tests.tools.words import STATISTICS, sentences_of


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
