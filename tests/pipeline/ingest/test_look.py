"""The look at eight kinds of sheets that no mapping was written for: asked where unsure, true once answered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.errors import MappingError
from latewood.pipeline.ingest.files.mapping import parse_mapping
from latewood.pipeline.ingest.look.proposal import Known, Proposal
from latewood.pipeline.ingest.look.propose import propose
from latewood.pipeline.warehouse.lookups import plain_name
from tests import look_camp
from tests.look_camp import ATHLETES, FAMILIES, Family


def known() -> Known:
    names: dict[str, list[str]] = {}
    for athlete, name in ATHLETES.items():
        for key in (athlete, name, plain_name(name)):
            names.setdefault(key, []).append(athlete)
    unique = {key: tuple(dict.fromkeys(ids)) for key, ids in names.items()}
    return Known(
        catalogue=load_catalogue(), names=unique, shown=ATHLETES, first_day=date(2032, 6, 1), last_day=date(2032, 8, 15)
    )  # fmt: skip


KNOWN = known()


def look(name: str, text: str | bytes, answers: Mapping[str, str] | None = None) -> Proposal:
    content = text if isinstance(text, bytes) else text.encode()
    return propose(name, content, KNOWN, answers or {})[0]


def open_keys(proposals: Sequence[Proposal]) -> set[str]:
    return {q.key for p in proposals for q in p.open}


@pytest.mark.parametrize("make", FAMILIES)
def test_each_family_asks_what_it_cannot_know_and_nothing_else(make):
    family: Family = make()
    before = propose(family.name, family.content, KNOWN, {})
    assert open_keys(before) == set(family.asked)
    after = propose(family.name, family.content, KNOWN, family.answers)
    assert [p.problem for p in after] == [""] * len(after)
    assert all(p.ready and p.mapping_text for p in after)
    assert all(len(p.samples) >= 4 for p in after)


def test_what_is_left_out_is_shown():
    combine = propose(*_file(look_camp.combine_sheet()), KNOWN, {})[0]
    assert combine.dropped == ((17, "Averages"),)
    assert {c.header: c.reason for c in combine.columns}[
        "Best 60 (s)"
    ] == "computed from the trials beside it"
    scale = propose(*_file(look_camp.bathroom_scale()), KNOWN, {})[0]
    assert [text for _, text in scale.dropped] == ["Team average", "checked by the night staff"]


def _file(family: Family) -> tuple[str, bytes]:
    return family.name, family.content


def test_a_header_that_its_values_contradict_is_a_question():
    rows = "".join(f"Silas Oakmere,2032-06-1{n},{161 + n}\n" for n in range(5))
    requested = look("scale.csv", "name,date,Weight (kg)\n" + rows)
    assert [q.key for q in requested.open] == ["Weight (kg): unit"]
    assert requested.open[0].proposed == "lb"


def test_a_column_of_something_else_is_no_reading():
    rows = "".join(f"Silas Oakmere,2032-06-1{n},{71 + n},{80 + n},{n + 1}\n" for n in range(5))
    observed = look("velo.csv", "name,date,Exit velo (mph),Goal exit velo (mph),Exit velo rank\n" + rows)
    assert [c.target for c in observed.columns if c.role == "measure"] == ["exit_speed"]
    assert observed.ready


def test_a_near_header_is_asked_not_taken():
    rows = "".join(f"Silas Oakmere,2032-06-1{n},{175 + n}\n" for n in range(5))
    observed = look("span.csv", "name,date,Wingspam (cm)\n" + rows)
    assert [q.key for q in observed.open] == ["Wingspam (cm): measure"]
    assert look("span.csv", "name,date,Wingspam (cm)\n" + rows, {"Wingspam (cm): measure": "Wingspan"}).ready


def test_a_best_without_its_trials_is_asked():
    rows = "".join(f"Silas Oakmere,2032-06-1{n},{2.0 + n / 100}\n" for n in range(5))
    observed = look("pop.csv", "name,date,Best pop (s)\n" + rows)
    assert [q.key for q in observed.open] == ["Best pop (s): computed"]
    taken = look(
        "pop.csv", "name,date,Best pop (s)\n" + rows, {"Best pop (s): computed": observed.open[0].choices[0]}
    )
    assert taken.ready and 'measure = "pop_time"' in taken.mapping_text


def test_a_file_without_any_day_asks_for_it_and_is_found_by_no_other_file():
    text = "name,Pop time (s)\nSilas Oakmere,2.04\nBenjamin Rushford,2.11\n"
    assert [q.key for q in look("pops.csv", text).open] == ["day"]
    assert not look("pops.csv", text, {"day": "yesterday"}).samples
    taken = look("pops.csv", text, {"day": "2032-06-14"})
    assert taken.ready and taken.samples[0].day == "2032-06-14"
    assert "headers" not in taken.mapping_text


def test_words_for_no_value_are_no_values_and_any_other_word_is_held():
    text = "name,date,60 yd (s)\nSilas Oakmere,2032-06-14,DNF\nInés Holloway,2032-06-14,7.31\n"
    text += "".join(f"Inés Holloway,2032-06-1{n},7.2{n}\n" for n in range(5, 9))
    text += "Theodora Quill,2032-06-14,slipped\n"
    observed = look("sixty.csv", text)
    assert 'blank = ["DNF"]' in observed.mapping_text
    assert "slipped" not in observed.mapping_text


def test_a_roster_without_ids_gets_some_that_stay():
    text = "First,Last,DOB,Grad Year,Pos\nSilas,Oakmere,2/11/2016,2034,OF\nInés,Holloway,10/20/2016,2035,P\n"
    observed = look("players.csv", text)
    assert observed.kind == "roster"
    assert observed.ready, observed.open
    assert 'date_format = "%m/%d/%Y"' in observed.mapping_text


def test_an_unreadable_file_says_why():
    for content in (b"", b"%PDF-1.7 x", b"just a line of prose", bytes(range(256))):
        observed = propose("x.csv", content, KNOWN, {})
        assert len(observed) == 1 and observed[0].problem and not observed[0].ready
    assert propose("x.xlsx", b"PK\x03\x04rest", KNOWN, {})[0].problem


def test_two_sets_and_repetitions_in_one_cell():
    text = "name,date,Trap bar (lb)\n" + "".join(
        f"Silas Oakmere,2032-06-1{n},3x5 @ {225 + n}\n" for n in range(5)
    )
    observed = look("bar.csv", text)
    assert 'written = "sets x reps @ load"' in observed.mapping_text
    assert observed.samples[0].value == f"{225 * 0.45359237 * (1 + 5 / 30):.3f} kg"


BATS = "name,date,Exit velo (mph)\n" + "".join(f"Silas Oakmere,2032-06-1{n},{71 + n}\n" for n in range(5))


def bats(answers: Mapping[str, str], **usual: Mapping[str, str]) -> Proposal:
    return propose("bats.csv", BATS.encode(), replace(KNOWN, usual=usual), answers)[0]


def test_conditions_are_one_question_a_file_and_needed_where_the_last_camp_took_them_alike():
    first = bats({})
    assert [(q.key, q.needed, q.taken) for q in first.questions] == [("conditions", False, "not stated")]
    assert "[conditions]" not in first.mapping_text
    later = bats({}, exit_speed={"delivery": "tee", "device": "radar"})
    assert [(q.key, q.proposed) for q in later.open] == [("conditions", "as in the last camp")]
    assert "delivery tee, device radar" in later.open[0].text
    taken = bats({"conditions": "as in the last camp"}, exit_speed={"delivery": "tee", "device": "radar"})
    assert taken.ready
    assert '[conditions]\n"delivery" = "tee"\n"device" = "radar"\n' in taken.mapping_text
    other = bats({"conditions": "not stated"}, exit_speed={"delivery": "tee"})
    assert other.ready
    assert "[conditions]" not in other.mapping_text


def test_each_condition_can_be_stated_alone():
    each = bats({"conditions": "say each"}, exit_speed={"delivery": "tee"})
    assert [q.key for q in each.questions] == ["conditions", "delivery", "bat", "ball", "device"]
    assert [q.key for q in bats({"bat": "wood"}, exit_speed={"delivery": "tee"}).open] == ["delivery"]
    stated = bats({"bat": "wood", "delivery": "tee"}, exit_speed={"delivery": "tee"})
    assert '[conditions]\n"delivery" = "tee"\n"bat" = "wood"\n' in stated.mapping_text


def test_a_name_twice_on_a_roster_without_ids_is_said():
    text = "First,Last,DOB\nPerrin,Vance,2016-01-12\nPerrin,Vance,2017-01-22\nSilas,Oakmere,2016-02-11\n"
    notes = look("players.csv", text).notes
    assert [n.split(":")[0] for n in notes] == ["No ids in the file", "'Perrin Vance' stands 2 times"]


def test_places_in_a_list_are_asked_each_file():
    text = "Lane,date,Pop time (s)\n1,2032-06-14,2.04\n2,2032-06-14,2.11\n"
    observed = look("lanes.csv", text)
    assert [q.key for q in observed.open] == ["name Lane 1", "name Lane 2"]
    assert look("lanes.csv", text, {"name Lane 1": "L1", "name Lane 2": "L3"}).ready


@pytest.mark.parametrize(
    ("cells", "header", "scale"),
    [((-71.5, -72.5, -70.5), "Exit velo (mph)", "-1"), ((715, 725, 705), "Exit velo (mph)", "0.1")],
)
def test_the_sign_or_scale_of_a_column_is_asked_and_kept(cells, header, scale):
    rows = "".join(f"Silas Oakmere,2032-06-1{n},{cell}\n" for n, cell in enumerate(cells))
    text = f"name,date,{header}\n{rows}"
    observed = look("bats.csv", text)
    assert [(q.key, q.proposed) for q in observed.open] == [(f"{header}: scale", f"times {scale}")]
    taken = look("bats.csv", text, {f"{header}: scale": f"times {scale}"})
    assert taken.ready
    assert f"scale = {scale}\n" in taken.mapping_text
    assert taken.samples[0].value == f"{71.5 * 0.44704:.4f} m/s"
    left = look("bats.csv", text, {f"{header}: scale": "leave it out"})
    assert left.problem


def test_numbers_that_fit_are_not_asked_for_their_scale():
    assert [q.key for q in look("bats.csv", BATS).open] == []


def test_a_scale_that_is_no_number_is_refused():
    block = '[[values]]\nmeasure = "exit_speed"\ncolumn = "EV"\nunit = "mph"\nscale = 0\n'
    with pytest.raises(MappingError, match="scale: 0 is not a number other than 0"):
        parse_mapping(f'kind = "readings"\nlayout = "wide"\n{block}', "a.toml", KNOWN.catalogue)


MERGED = (
    "Test day 14 June 2032,,,,\n,,,,\nPlayer,Sprint,Exit speed (mph),,\n,10 yd (s),1,2,3\n"
    "Silas Oakmere,1.81,71.2,73.4,70.9\nTheodora Quill,1.92,68.1,67.4,DNF\n"
)


def test_trials_counted_in_the_second_line_belong_to_the_header():
    merged = look("day.csv", MERGED)
    assert {c.header: (c.target, c.trial) for c in merged.columns if c.role == "measure"} == {
        "Sprint 10 yd (s)": ("sprint_10yd", 0),
        **{f"Exit speed (mph) {n}": ("exit_speed", n) for n in (1, 2, 3)},
    }
    assert merged.form.endswith("header in lines 3 and 4") and merged.samples[0].athlete == "Silas Oakmere"


def test_a_first_row_of_small_numbers_is_no_header():
    pulls = look(
        "pulls.csv", "Test day 14 June 2032,,\n,,\nName,Pull-ups,\nSilas Oakmere,1,2\nTheodora Quill,4,5\n"
    )
    assert pulls.form.endswith("header in line 3") and pulls.samples[0].value == "1.00"


@pytest.mark.parametrize("numbers", [(7, 12), (1, 2)])
def test_a_number_on_the_shirt_or_of_the_row_counts_no_trials(numbers: tuple[int, int]):
    one, other = numbers
    rows = f"{one},Silas Oakmere,2032-06-14,1.81\n{other},Theodora Quill,2032-06-14,1.9\n"
    column = look("list.csv", "#,Player,Date,10 yd (s)\n" + rows).columns
    assert {c.header: c.target for c in column}["#"] == ""
    tries = "".join(f"{n},{who},2032-06-14,1.8{n}\n" for who in ("L1", "L6") for n in (1, 2))
    counted = look("list.csv", "#,Player,Date,10 yd (s)\n" + tries).columns
    assert {c.header: c.target for c in counted}["#"] == "trial"


def test_feet_and_inches_in_two_columns_are_one_height():
    rows = "Silas Oakmere,2032-06-14,5,6,71.2\nTheodora Quill,2032-06-14,5,11,64\n"
    split = look("sizes.csv", "Name,Date,Ht (ft),Ht (in),Wt (kg)\n" + rows)
    told = {c.header: (c.target, c.reason) for c in split.columns}
    assert told["Ht (ft)"] == (
        "standing_height",
        "the feet of a length, its inches beyond them in 'Ht (in)'",
    )
    assert told["Ht (in)"] == ("", "the inches of the feet beside it")
    assert not split.open
    assert [s.value for s in split.samples if s.measure == "Standing height"] == ["167.640 cm", "180.340 cm"]
    rounded = look(
        "sizes.csv", "Name,Date,Ht (ft),Ht (in)\nSilas Oakmere,2032-06-14,5,66\nL6,2032-06-14,6,74\n"
    )
    assert [c.target for c in rounded.columns if c.header.startswith("Ht")] == ["", "standing_height"]
    assert [s.value for s in rounded.samples] == ["167.640 cm", "187.960 cm"]
    twice = look(
        "sizes.csv", "Name,Date,Ht (ft),Ht (in)\nSilas Oakmere,2032-06-14,5.5,66\nL6,2032-06-14,6,72\n"
    )
    assert [c.target for c in twice.columns if c.header == "Ht (ft)"] == ["standing_height"]


@pytest.mark.parametrize("word", ["Schnitt", "Moyenne", "Promedio", "Media", "Média", "Gemiddelde"])
def test_averages_in_other_languages_are_left_out(word: str):
    text = f"Name;Datum;Gewicht (kg)\nSilas Oakmere;14.06.2032;71,2\nTheodora Quill;14.06.2032;64,1\n{word};;67,7\n"
    assert look("scale.csv", text).dropped == ((4, word),)


@pytest.mark.parametrize("header", ["EV %ile", "EV percentile", "EV pctile"])
def test_a_standing_is_no_speed(header: str):
    rows = "Silas Oakmere,2032-06-14,71,62\nTheodora Quill,2032-06-14,64,48\n"
    column = look("speeds.csv", f"Name,Date,EV (mph),{header}\n" + rows).columns
    assert {c.header: c.target for c in column}[header] == ""


def test_while_the_year_of_a_header_is_open_no_day_is_made_up():
    text = "Name,9 Jun Wt (kg),16 Jun Wt (kg)\nSilas Oakmere,71,72\nTheodora Quill,64,64.5\n"
    (asked, _) = [c.reason for c in look("pairs.csv", text).columns if c.target == "body_mass"]
    assert asked.endswith("on the day in its header")
    (told, _) = [
        c.reason
        for c in look("pairs.csv", text, {"headers: year": "2032"}).columns
        if c.target == "body_mass"
    ]
    assert told.endswith("on 2032-06-09 by its header")
