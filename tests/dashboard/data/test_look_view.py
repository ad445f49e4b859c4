"""The look at a file in the words of the screens: names of measures and their units, never keys of the catalogue."""

from __future__ import annotations

import pytest

from latewood.dashboard.views.data.look import column_rows, columns_title, remarks
from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.ingest.look.proposal import Known, Proposal
from latewood.pipeline.ingest.look.propose import propose
from tests.look_camp import ATHLETES, FAMILIES, ROSTER, season_book, two_of_a_name

CATALOGUE = load_catalogue()
MEASURES = CATALOGUE.measures.values()
LABELS = {c.key: c.label for m in MEASURES for c in m.conditions} | {m.key: m.label for m in MEASURES}


def looks_at(name: str, content: bytes) -> tuple[Proposal, ...]:
    names = {text.casefold(): [key] for key, text in ATHLETES.items()}
    known = Known(catalogue=CATALOGUE, names=names, shown=ATHLETES)
    return propose(name, content, known, {})


def rows_of(name: str, content: bytes) -> dict[str, tuple[str, str]]:
    looks = looks_at(name, content)
    rows = [row for one in looks for row in column_rows(one, LABELS)]
    return {c: (row["Taken as"], row["Unit"]) for row in rows for c in row["Column"].split(", ")}


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


def test_neighbours_that_are_alike_share_a_row_and_unused_columns_are_in_the_title() -> None:
    rows = "Silas Oakmere,2032-06-14,71.2,73,red,a\nL6,2032-06-14,70,69,b,c\n"
    (one,) = looks_at("day.csv", f"Name,Date,EV 1 (mph),EV 2 (mph),Socks,Hat\n{rows}".encode())
    assert [r["Column"] for r in column_rows(one, LABELS)] == [
        "Date",
        "Name",
        "EV 1 (mph), EV 2 (mph)",
        "Socks, Hat",
    ]
    assert columns_title(one) == "6 columns, and why; not used: Socks, Hat"


def test_rows_left_out_are_one_line_and_names_one_line_a_reason() -> None:
    lines = [
        f"OAKMERE, Silas,2032-06-{n:02d},71\n".replace("OAKMERE, Silas", '"OAKMERE, Silas"') for n in (1, 2)
    ]
    text = "Name,Date,Wt (kg)\n" + "".join(lines) + '"Quill, Theodora",2032-06-01,64\nAverage,,68\nBest,,71\n'
    told = remarks(looks_at("scale.csv", text.encode())[0])
    assert told[0] == "Left out: line 5 (Average), line 6 (Best)."
    assert told[1].startswith("OAKMERE, Silas (2 values) is L1; Quill, Theodora (1 values) is L6: ")
    assert len(told) == 2
