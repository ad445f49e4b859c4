"""The invented academy's files: reproducible, readable, invented, and true to their answer key."""

import csv
import importlib.util
import io
import json
import sys
from collections import Counter
from datetime import date
from functools import cache
from pathlib import Path
from statistics import mean, median

import openpyxl
import pytest

SEED_DATA = Path(__file__).parents[2] / "seed_data"
FILES = SEED_DATA / "files"
RULES = (
    "unknown_athlete",
    "same_name",
    "unknown_measure",
    "unknown_unit",
    "unreadable_value",
    "unreadable_date",
    "date_ambiguous",
    "before_birth",
    "in_future",
    "outside_stay",
    "out_of_range",
    "unit_slip",
    "lost_point",
    "impossible_jump",
    "height_falls",
    "whole_file_unit",
    "duplicate_near",
    "correction",
    "swapped_pair",
    "copy_down",
    "sentinel",
    "split_order",
    "false_start",
    "reps_too_many",
    "radar_angle",
    "all_reversed",
    "reversed_sensor",
)
ENCODINGS = {"weights_B.csv": "cp1252", "weighins_E.txt": "utf-16"}
CAMPS = {"A": (26, 10), "B": (23, 9), "C": (19, 9), "D": (31, 13), "E": (24, 10), "F": (34, 14)}


@cache
def key():
    return json.loads((SEED_DATA / "answer_key.json").read_text(encoding="utf-8"))


@cache
def lines(name):
    """The lines of a file as lists of text; the first has number 1."""
    path = FILES / name
    if name.endswith(".xlsx"):
        page = openpyxl.load_workbook(path)["Results"]
        return [["" if c is None else str(c) for c in row] for row in page.iter_rows(values_only=True)]
    text = path.read_bytes().decode(ENCODINGS.get(name, "utf-8-sig"))
    delimiter = next(d for d in "\t;," if d in text.split("\n", 1)[0])
    return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))


@cache
def header_line(name):
    return 3 if name.endswith(".xlsx") else 1


def records(name):
    header = lines(name)[header_line(name) - 1]
    return [dict(zip(header, row, strict=True)) for row in lines(name)[header_line(name) :]]


def cell(name, line, header):
    return lines(name)[line - 1][lines(name)[header_line(name) - 1].index(header)]


def same_text(found, given):
    """Whether a cell states a text, whatever the decimal sign and however Excel prints a number."""
    try:
        return float(found.replace(",", ".")) == float(given)
    except ValueError:
        return found.replace(",", ".") == given.replace(",", ".")


def named(person):
    return next(r for r in records("roster.csv") if r["name"] == person)["athlete_id"]


def weigh_ins(person):
    """Day and kg of the weigh-ins without a planted error, camp F or D."""
    me = named(person)
    wrong = {(e["file"], e["line"]) for e in key()["errors"]}
    return sorted(
        (
            date.fromisoformat(row["measured_on"]),
            float(row["value"]) * (0.45359237 if row["unit"] == "lb" else 1.0),
        )
        for path in [*FILES.glob("weighins_F*.csv"), FILES / "weighins_D.csv"]
        for number, row in enumerate(records(path.name), start=2)
        if row["athlete"] == me and (path.name, number) not in wrong
    )


@pytest.mark.slow
def test_writing_again_gives_the_same_bytes(tmp_path):
    spec = importlib.util.spec_from_file_location("saltmarsh_generate", SEED_DATA / "generate.py")
    generate = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(generate)
    generate.write_all(tmp_path)
    written = sorted(p.relative_to(tmp_path) for p in tmp_path.rglob("*") if p.is_file())
    kept = sorted([p.relative_to(SEED_DATA) for p in FILES.iterdir()] + [Path("answer_key.json")])
    assert written == kept
    assert [p for p in written if (tmp_path / p).read_bytes() != (SEED_DATA / p).read_bytes()] == []


@pytest.mark.parametrize("name", sorted(p.name for p in FILES.iterdir()))
def test_every_file_has_rows_as_wide_as_its_header(name):
    table = lines(name)
    header = table[header_line(name) - 1]
    assert len(table) > header_line(name)
    assert {len(row) for row in table[header_line(name) - 1 :]} == {len(header)}
    assert len(set(header)) == len(header)


def test_every_name_is_made_up_from_the_invented_words():
    words = importlib.util.spec_from_file_location("words", SEED_DATA / "saltmarsh" / "academy.py")
    academy = importlib.util.module_from_spec(words)
    sys.modules["words"] = academy  # dataclasses look their module up by name
    words.loader.exec_module(academy)
    compounds = {a + b for a in academy.SURNAME_FIRST for b in academy.SURNAME_LAST}
    stories = {s["name"] for s in key()["stories"]}
    roster = records("roster.csv")
    assert [
        r["name"] for r in roster if r["name"].split()[-1] not in compounds and r["name"] not in stories
    ] == []
    assert len({r["name"] for r in roster}) == len(roster) == 168


def test_roster_and_stays_are_those_of_the_six_camps():
    sport = {r["athlete_id"]: r["sport"] for r in records("roster.csv")}
    assert Counter(sport.values()) == {"baseball": 118, "softball": 50}
    stays = records("stays.csv")
    result = Counter((s["camp"], sport[s["athlete"]]) for s in stays)
    assert {c: (result[c, "baseball"], result[c, "softball"]) for c in CAMPS} == CAMPS
    assert sum(n > 1 for n in Counter(s["athlete"] for s in stays).values()) == 41
    assert sum(s["camp"] == "D" and s["leave_reason"] != "" for s in stays) == 5
    assert {s["left_on"] for s in stays if s["camp"] == "F" and not s["leave_reason"]} == {""}


def test_plans_stay_below_the_ceiling_and_nobody_under_14_has_one():
    born = {r["athlete_id"]: date.fromisoformat(r["birth_date"]) for r in records("roster.csv")}
    plans = records("plans.csv")
    assert len({p["plan_id"] for p in plans if p["start_on"] >= "2033"}) == 30
    for plan in plans:
        start, end = date.fromisoformat(plan["start_on"]), date.fromisoformat(plan["target_on"])
        weekly = (float(plan["target_mass"]) / float(plan["start_mass"]) - 1) * 100 / ((end - start).days / 7)
        assert 0 < weekly <= 0.5, plan
        assert (start - born[plan["athlete"]]).days / 365.25 >= 14, plan


@pytest.mark.parametrize("rule", RULES)
def test_every_kind_of_error_is_planted_three_times_or_more(rule):
    assert key()["counts"][rule] >= 3


def test_the_key_names_the_cell_that_holds_each_error():
    wrong = [
        (e["file"], e["line"], e["cell"], e["given"], cell(e["file"], e["line"], e["cell"]))
        for e in key()["errors"]
        if not same_text(cell(e["file"], e["line"], e["cell"]), e["given"])
    ]
    assert wrong == []
    assert len({(e["file"], e["line"], e["field"]) for e in key()["errors"]}) == len(key()["errors"])
    assert all(cell(e["file"], e["line"], e["field"]) != "" for e in key()["errors"])


def test_a_proposed_value_stands_close_to_the_truth():
    for error in key()["errors"]:
        proposed = error["expected_proposal"]["value"]
        if proposed is not None:
            assert proposed == pytest.approx(error["true_value"], rel=0.002), error


def test_rows_sent_twice_are_the_same_in_both_places():
    for twice in key()["recognised"]:
        assert lines(twice["file"])[twice["line"] - 1] == lines(twice["first_file"])[twice["first_line"] - 1]
    sent_again = next(p.name for p in FILES.glob("*_resent.csv"))
    again = sum(t["file"] == sent_again for t in key()["recognised"])
    assert again + sum(e["rule"] == "correction" for e in key()["errors"]) == len(records(sent_again))


def test_whole_files_are_in_the_other_unit_for_every_row():
    body = next(w for w in key()["whole_files"] if w["file"] == "station2_D_part2.csv")
    before = {r["Athlete ID"]: float(r["Mass"]) for r in records("station2_D_part1.csv")}
    ratios = [
        float(r["Mass"]) / before[r["Athlete ID"]] for r in records(body["file"]) if r["Athlete ID"] in before
    ]
    assert len(ratios) > 300
    assert median(ratios) == pytest.approx(2.20462, rel=0.03)
    assert min(ratios) > 1.9
    assert body["last_line"] == len(lines(body["file"]))


def test_the_encodings_are_as_told():
    assert (FILES / "weighins_A.csv").read_bytes().startswith(b"\xef\xbb\xbf")
    assert (FILES / "weighins_E.txt").read_bytes().startswith(b"\xff\xfe")
    names = {r["Name"] for r in records("weights_B.csv")}
    accented = [n for n in names if not n.isascii()]
    assert len(accented) >= 2
    with pytest.raises(UnicodeDecodeError, match="utf-8"):
        (FILES / "weights_B.csv").read_bytes().decode("utf-8")


def test_nothing_is_dated_after_the_clock_but_the_planted_errors():
    planted = {(e["file"], e["line"]) for e in key()["errors"] if e["rule"] == "in_future"}
    late = {
        (path.name, number)
        for path in FILES.glob("*.csv")
        if "measured_on" in lines(path.name)[0]
        for number, row in enumerate(records(path.name), start=2)
        if row["measured_on"][:4].isdigit() and row["measured_on"] > key()["clock"]
    }
    assert late == {p for p in planted if p[0].endswith(".csv")}


def test_the_very_light_athlete_gains_a_fifth_and_has_no_planted_error():
    light = key()["not_errors"][0]
    stay = next(s for s in key()["stays"] if s["stay_id"] == light["stay_id"])
    start, end = stay["true"]["body_mass"]
    assert start / (stay["true"]["standing_height"][0] / 100) ** 2 < 18
    assert end / start >= 1.2
    assert [e for e in key()["errors"] if e["athlete_id"] == light["athlete_id"]] == []
    steps = [
        abs(b[1] - a[1]) for a, b in zip(weigh_ins(light["name"]), weigh_ins(light["name"])[1:], strict=False)
    ]
    assert max(steps) < 2.0


@pytest.mark.parametrize(
    ("person", "last", "kg_a_week"),
    [("Ansel Briarfen", 73.9, 0.31), ("Kwabena Marlwick", 73.4, 0.0), ("Tomislav Eelgrass", 75.1, 0.62)],
)
def test_the_weigh_ins_of_the_plan_board_tell_their_story(person, last, kg_a_week):
    """Numbers of the demo's Monday board; the last three weeks by least squares."""
    readings = weigh_ins(person)
    clock = date.fromisoformat(key()["clock"])
    recent = [((d - clock).days / 7, kg) for d, kg in readings if (clock - d).days <= 21]
    centre, level = mean(w for w, _ in recent), mean(kg for _, kg in recent)
    rate = sum((w - centre) * kg for w, kg in recent) / sum((w - centre) ** 2 for w, _ in recent)
    assert level - rate * centre == pytest.approx(last, abs=0.35)
    assert rate == pytest.approx(kg_a_week, abs=0.25)


def test_the_bridging_day_has_both_devices_and_their_planted_offset():
    bridge = key()["bridge"]
    rows = records(f"exit_speed_E_{bridge['held_on']}.csv")
    wrong = {e["line"] for e in key()["errors"] if e["file"] == f"exit_speed_E_{bridge['held_on']}.csv"}
    speeds = {}
    for number, row in enumerate(rows, start=2):
        if number not in wrong:
            speeds.setdefault((row["athlete"], row["ball"]), {}).setdefault(row["device"], []).append(
                float(row["value"])
            )
    pairs = {k: v for k, v in speeds.items() if len(v) == 2}
    assert Counter(ball for _, ball in pairs) == {"baseball": 18, "softball 12": 8}
    shift = mean(median(v["optical"]) - median(v["radar"]) for v in pairs.values())
    # Median of ten swings of SD 3.5: standard error 1.39 each, so 0.39 for the mean difference of 26 pairs.
    assert shift == pytest.approx(bridge["shift_mph"], abs=3 * 0.39)


def test_the_committed_files_are_small():
    assert sum(p.stat().st_size for p in SEED_DATA.rglob("*") if p.is_file()) < 12_000_000
