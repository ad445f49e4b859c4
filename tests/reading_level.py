"""The reading level of a text by a published formula, in a few lines of our own."""

from __future__ import annotations

import re
from collections.abc import Iterable

_WORD = re.compile(r"[A-Za-z][A-Za-z'’]*|\d[\d.,]*")


def syllables(word: str) -> int:
    """Syllables of an English word: groups of vowels, a silent e at the end not counted; a number by its digits.

    >>> [syllables(w) for w in ("real", "change", "dietitian", "little", "tests", "differ", "helped", "82.2")]
    [1, 1, 4, 2, 1, 2, 1, 3]
    """
    if word[0].isdigit():
        return sum(letter.isdigit() for letter in word)
    plain = re.sub(r"[^a-z]", "", word.lower())
    plain = re.sub(r"(?<=[aeiouy])ed$", "d", plain)
    groups = len(re.findall(r"ia|[aeiouy]+", plain.replace("ian", "i-an")))
    if re.search(r"[^aeiouyl]e$|[^aeiouy]es$|[^aeiouytd]ed$", plain) and not re.search(
        r"(?:[cgsxz]|sh|ch)es$", plain
    ):
        groups -= 1
    return max(1, groups)


def grade(sentences: Iterable[str]) -> float:
    """The Flesch-Kincaid grade level of sentences, each ended by '.', '!' or '?'.

    Kincaid, Fishburne, Rogers, Chissom 1975, Research Branch Report 8-75, Naval Technical Training Command:
    0.39 x words a sentence + 11.8 x syllables a word - 15.59.
    """
    text = " ".join(sentences)
    words = _WORD.findall(text)
    ends = len(re.findall(r"[.!?](?=\s|$|[”\"])", text))
    return 0.39 * len(words) / max(1, ends) + 11.8 * sum(map(syllables, words)) / len(words) - 15.59
