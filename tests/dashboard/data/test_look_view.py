"""The look at a file in the words of the screens: names of measures and their units, never keys of the catalogue."""

from __future__ import annotations

import pytest

from latewood.dashboard.views.data.look import column_rows
from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.ingest.look.proposal import Known
from latewood.pipeline.ingest.look.propose import propose
from tests.look_camp import ATHLETES, FAMILIES, ROSTER, pocket_radar, season_book, two_of_a_name

CATALOGUE = load_catalogue()


def rows_of(name: str, content: bytes) -> dict[str, tuple[str, str]]:
    names = {text.casefold(): [key] for key, text in ATHLETES.items()}
    known = Known(catalogue=CATALOGUE, names=names, shown=ATHLETES)
    looks = propose(name, content, known, {})
    return {r["Column"]: (r["Taken as"], r["Unit"]) for one in looks for r in column_rows(one, CATALOGUE)}


def test_columns_are_named_by_label_with_the_unit_given_and_the_unit_kept() -> None:
    book = season_book()
    rows = rows_of(book.name, book.content)
    assert rows["Thrower"] == ("Athlete", "")
    assert rows["When"] == ("Day", "")
    assert rows["Throw velo (km/h)"] == ("Throw speed", "km/h, kept in m/s")
    assert rows["Mass"] == ("Body mass", "in each cell, kept in kg")


def test_a_unit_that_is_asked_is_shown_as_not_settled() -> None:
    radar = pocket_radar()
    rows = rows_of(radar.name, radar.content)
    assert rows["EV 1"] == ("Exit speed", "not settled, kept in m/s")
    assert rows["target EV"] == ("Not used", "")


def test_a_unit_that_is_kept_as_it_comes_is_named_once() -> None:
    pops = two_of_a_name()
    assert rows_of(pops.name, pops.content)["pop time (s)"] == ("Pop time", "s")


def test_conditions_and_fields_of_a_roster_are_in_words() -> None:
    gates = b"athlete,date,10 yd (s),Floor surface,surface\nSilas Oakmere,2032-06-10,1.7,x,turf\n"
    assert rows_of("gates.csv", gates)["surface"] == ("Surface", "")
    roster = rows_of("players.csv", ROSTER.replace("athlete_id,name", "code,player").encode())
    assert roster["code"] == ("Athlete's id", "")
    assert roster["graduation_year"] == ("Graduation year", "")


@pytest.mark.parametrize("make", FAMILIES, ids=lambda make: make.__name__)
def test_no_key_of_the_catalogue_is_shown(make) -> None:
    family = make()
    keys = {*CATALOGUE.measures, *(c.key for m in CATALOGUE.measures.values() for c in m.conditions)}
    spelled = {key for key in keys if "_" in key}
    shown = {taken for taken, _ in rows_of(family.name, family.content).values()}
    assert shown and not shown & spelled
