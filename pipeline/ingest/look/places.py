"""Reads a list of who has which place (lane, jersey number, player 3), and answers with it whose each place is."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.reading import ReadingOptions, read_table
from latewood.pipeline.ingest.look.people import name_key, sure_ids
from latewood.pipeline.ingest.look.proposal import Known, Proposal
from latewood.pipeline.warehouse.lookups import ids_of
from latewood.pipeline.warehouse.slots import is_slot

_NUMBER = re.compile(r"\d+")


def places_of(name: str, content: bytes, known: Known) -> dict[str, str]:
    """Place -> athlete, of a list of two columns, place and athlete. Nothing of it is kept.

    Raises FileUnreadableError where it has other columns, a place stands twice, or a name is not exactly one athlete's.
    """
    table = read_table(name, content, ReadingOptions())
    if len(table.headers) != 2:
        raise FileUnreadableError(
            f"{table.header_of(name)}: has {len(table.headers)} columns; a list of places has two, place and athlete"
        )
    places: dict[str, str] = {}
    for line, row in zip(table.lines, table.frame.itertuples(index=False), strict=True):
        place, text = str(row[0]).strip(), str(row[1]).strip()
        number = place_number(place)
        if not number or number in places:
            raise FileUnreadableError(
                f"{name}, line {line}: place {place!r} has no number, or stands twice; correct it"
            )
        ids = ids_of(text, known.names) or sure_ids(text, known)
        if len(ids) != 1:
            raise FileUnreadableError(
                f"{name}, line {line}: {text!r} is {len(ids)} athletes; write an id there"
            )
        places[number] = ids[0]
    return places


def place_number(text: str) -> str:
    """The number of a place, without leading noughts; '' where a text is no place or holds not one number.

    >>> place_number("Lane 03"), place_number("#7"), place_number("Arlo F."), place_number("Lane 1-2")
    ('3', '7', '', '')
    """
    numbers = _NUMBER.findall(text)
    return numbers[0].lstrip("0") or "0" if is_slot(text) and len(numbers) == 1 else ""


def answers_by(places: Mapping[str, str], proposals: Sequence[Proposal]) -> dict[str, str]:
    """The answers that a list of places gives to the questions of some proposals, each for its own file."""
    return {
        f"{p.file_name} > {name_key(n.text)}": places[place_number(n.text)]
        for p in proposals
        for n in p.names
        if place_number(n.text) in places
    }
