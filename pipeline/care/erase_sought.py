"""What is looked for when an athlete is erased: their names in any order and writing, and their id where it is one."""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import Final

ERASED: Final = "erased"
_BREAK: Final = r"[\W_]*"
_MARKS: Final = re.compile(r"[\u0300-\u036f]")
_JSON: Final = re.compile(r"\\u([0-9a-fA-F]{4})")
_MOST_WORDS: Final = 4  # of a name whose words are sought in every order


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """Patterns: names without case and accents, the id as it is written."""

    names: re.Pattern[str] | None
    exact: re.Pattern[str]
    bare_ids: frozenset[str] = frozenset()  # ids that are sought in columns of ids only
    parts: frozenset[frozenset[str]] = (
        frozenset()
    )  # the words of each name, for rows that keep them in cells apart

    def spans(self, text: str) -> list[tuple[int, int]]:
        """Where in a text any of it stands, from left to right."""
        result = [m.span() for m in self.exact.finditer(text)]
        if self.names:
            folded = _folded(text)
            if self.names.search(folded):
                at = range(len(text) + 1) if text.isascii() else _places(text)
                reported = folded if text.isascii() else _slowly(text)
                result += [(at[m.start()], at[m.end() - 1] + 1) for m in self.names.finditer(reported)]
        return sorted(result)

    def found(self, text: str) -> bool:
        """Whether any of it stands in a text."""
        return bool(self.spans(text))

    def found_in_row(self, cells: Sequence[str]) -> bool:
        """Whether a row of cells names them: in one cell, over cells side by side, or by first and last name apart."""
        filled = [one for one in cells if one]
        whole = {_folded(one.strip()) for one in filled}
        return any(words <= whole for words in self.parts) or self.found("\n".join(filled))

    def is_row(self, cells: Sequence[str]) -> bool:
        """Whether a row of cells is theirs: a cell, or cells in order, are a name and nothing else."""
        filled = [one.strip() for one in cells if one.strip()]
        whole = {_folded(one) for one in filled}
        runs = (" ".join(filled[i : i + n]) for i in range(len(filled)) for n in range(1, _MOST_WORDS + 1))
        return any(words <= whole for words in self.parts) or any(
            self.replaced(one) == ERASED for one in runs
        )

    def found_in_file(self, text: str) -> bool:
        """Whether any of it stands in a file's text, also where it is written in the ways of JSON or XML."""
        if self.found(text):
            return True
        plain = text
        if "\\u" in plain:
            plain = _JSON.sub(lambda m: chr(int(m[1], 16)), plain)
        if "&" in plain:
            plain = html.unescape(plain)
        return plain is not text and self.found(plain)

    def replaced(self, text: str, keep: str = "") -> str:
        """The text with `erased` in its place; letters of `keep`, that divide the fields of a table, stay."""
        made, at = [], 0
        for start, end in self.spans(text):
            if start >= at:
                made += [text[at:start], ERASED, *(letter for letter in text[start:end] if letter in keep)]
            at = max(at, end)
        return "".join([*made, text[at:]])


def sought(athlete_id: str, names: Iterable[str], joined: Iterable[str] = ()) -> Sought:
    """What to look for: names of several words anywhere, and the id with those that were joined into it.

    A name of one word, or an id that is short or a bare number, means other things in other columns: such ones are
    sought only where an athlete is named.
    """
    athlete_ids = (athlete_id, *joined)
    loose: set[str] = set()
    parts: set[frozenset[str]] = set()
    for name in {*names} - {*athlete_ids}:
        words = words_of(name)
        if len(words) > 1 and sum(map(len, words)) > 5:
            orders = permutations(words) if len(words) <= _MOST_WORDS else (words, [words[-1], *words[:-1]])
            parts.add(frozenset(words))
            loose |= {_BREAK.join(map(re.escape, order)) for order in orders}
    exact = "|".join(map(_exactly, athlete_ids))
    edges = rf"(?<![^\W_])(?:{'|'.join(sorted(loose))})(?![^\W_])"
    return Sought(
        names=re.compile(edges) if loose else None,
        exact=re.compile(exact),
        bare_ids=frozenset(one for one in athlete_ids if not _is_telling(one)),
        parts=frozenset(parts),
    )


def _is_telling(athlete_id: str) -> bool:
    long = len(athlete_id) > 5 or not athlete_id.isalnum()
    return len(athlete_id) > 3 and not athlete_id.isdigit() and long


def _exactly(athlete_id: str) -> str:
    one = re.escape(athlete_id)
    if _is_telling(athlete_id):
        return rf"(?<!\w){one}(?!\w)"
    return rf'"athlete(?:_id)?": ?"{one}"|(?<![\w.]){one}@(?=\w)'


def words_of(text: str) -> Sequence[str]:
    """The words of a name without case, accents and signs."""
    return [word for word in re.split(r"[\W_]+", _folded(text)) if word]


def _folded(text: str) -> str:
    if text.isascii():
        return text.lower()
    return _MARKS.sub("", unicodedata.normalize("NFKD", text)).casefold()


def _letters(text: str) -> Iterable[tuple[int, str]]:
    for at, letter in enumerate(text):
        for one in _folded(letter):
            yield at, one


def _slowly(text: str) -> str:
    return "".join(one for _, one in _letters(text))


def _places(text: str) -> list[int]:
    return [at for at, _ in _letters(text)]
