"""Whether every line of a delimited text has as many fields as its header, seen from the bytes without splitting it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

_BLOCK = 4_000_000  # letters that are looked at together, up to the end of their last line
_RETURN, _END, _QUOTE = b'\r\n"'


def is_even(text: str, delimiter: str, width: int) -> bool:
    r"""Whether a text of \n or \r\n lines has `width` fields on each line, quoted ones quoted whole and on one line.

    False also where that cannot be seen from here; the strict reader then says which line is not.
    """
    if len(delimiter) != 1 or not delimiter.isascii() or delimiter in '"\r\n' or text.startswith("\ufeff"):
        return False
    kept = bytes(one for one in range(256) if one not in {_END, ord(delimiter)})
    row = delimiter.encode() * (width - 1) + b"\n"
    for block in _blocks(text):
        marks = _marks_between(block, ord(delimiter)) if b'"' in block else block.translate(None, kept)
        if marks is None or marks != row * (len(marks) // width):
            return False
    return True


def _blocks(text: str) -> Iterator[bytes]:
    at = 0
    while at < len(text):
        end = text.find("\n", at + _BLOCK) + 1
        block = text[at : end or len(text)]
        yield (block if block.endswith("\n") else block + "\n").encode()
        at += len(block)


def _marks_between(block: bytes, delimiter: int) -> bytes | None:
    """The delimiters and line ends outside of quotes; None where a quote is not at the edge of its field."""
    letters = np.frombuffer(block, dtype=np.uint8)
    quotes = np.flatnonzero(letters == _QUOTE)
    opening, closing = quotes[0::2], quotes[1::2]
    if len(opening) != len(closing):
        return None
    edge = np.zeros(256, dtype=bool)
    edge[[delimiter, _END, _RETURN]] = True
    before = edge[letters[opening - 1]] | (opening == 0)  # a block ends in a line end, so -1 does no harm
    doubled = opening[1:] == closing[:-1] + 1
    before[1:] |= doubled
    after = edge[letters[closing + 1]]
    after[:-1] |= doubled
    if not (before.all() and after.all()):
        return None
    marked = letters[(letters == delimiter) | (letters == _END) | (letters == _QUOTE)]
    outside = np.bitwise_xor.accumulate(marked == _QUOTE) ^ True
    if (marked[~outside] == _END).any():
        return None
    return bytes(marked[outside & (marked != _QUOTE)])
