"""The look at a file in the words of the screens: names of measures and their units, never keys of the catalogue."""

from __future__ import annotations

import pytest

from latewood.dashboard.views.data.look import column_rows
from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.ingest.look.proposal import Known
from latewood.pipeline.ingest.look.propose import propose
from tests.look_camp import ATHLETES, FAMILIES, ROSTER, season_book, two_of_a_name

CATALOGUE = load_catalogue()
MEASURES = CATALOGUE.measures.values()
LABELS = {c.key: c.label for m in MEASURES for c in m.conditions} | {m.key: m.label for m in MEASURES}


def rows_of(name: str, content: bytes) -> dict[str, tuple[str, str]]:
    names = {text.casefold(): [key] for key, text in ATHLETES.items()}
    known = Known(catalogue=CATALOGUE, names=names, shown=ATHLETES)
    looks = propose(name, content, known, {})
    return {r["Column"]: (r["Taken as"], r["Unit"]) for one in looks for r in column_rows(one, LABELS)}


def test_columns_are_named_by_label_with_their_unit() -> None:
    book = season_book()
    rows = rows_of(book.name, book.content)
    assert rows["Thrower"] == ("athlete", "")
    assert rows["Throw velo (km/h)"] == ("Throw speed", "km/h")
    pops = two_of_a_name()
    assert rows_of(pops.name, pops.content)["pop time (s)"] == ("Pop time", "s")


def test_conditions_and_fields_of_a_roster_are_in_words() -> None:
    gates = b"athlete,date,10 yd (s),surface\nSilas Oakmere,2032-06-10,1.7,turf\n"
    assert rows_of("gates.csv", gates)["surface"] == ("Surface", "")
    roster = rows_of("players.csv", ROSTER.replace("athlete_id,name", "code,player").encode())
    assert roster["code"] == ("id", "")
    assert roster["graduation_year"] == ("graduation year", "")


@pytest.mark.parametrize("make", FAMILIES, ids=lambda make: make.__name__)
def test_no_key_of_the_catalogue_is_shown(make) -> None:
    family = make()
    keys = {*CATALOGUE.measures, *(c.key for m in CATALOGUE.measures.values() for c in m.conditions)}
    spelled = {key for key in keys if "_" in key}
    shown = {taken for taken, _ in rows_of(family.name, family.content).values()}
    assert shown and not shown & spelled
