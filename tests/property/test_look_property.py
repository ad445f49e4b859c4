"""Workbooks and tables drawn at random: what the look takes as sure is true, whatever lies around the table."""

from __future__ import annotations

from datetime import date, timedelta
from io import BytesIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from latewood.pipeline.ingest.files.mapping import parse_mapping
from latewood.pipeline.ingest.files.reading import read_table
from latewood.pipeline.ingest.files.shape import cells_of
from latewood.pipeline.ingest.files.tidy import tidied
from latewood.pipeline.ingest.look.propose import propose
from tests.look_camp import ATHLETES, WHO
from tests.pipeline.ingest.test_look import KNOWN

# header, measure, unit, and the values that athletes of this age have in that unit
MEASURES = (
    ("Wt (lbs)", "body_mass", "lb", (120.0, 190.0)),
    ("Weight kg", "body_mass", "kg", (55.0, 86.0)),
    ("10 yd (s)", "sprint_10yd", "s", (1.6, 2.0)),
    ("Vert in", "countermovement_jump", "in", (16.0, 30.0)),
    ("Broad jump (cm)", "broad_jump", "cm", (180.0, 270.0)),
    ("Exit velo (mph)", "exit_speed", "mph", (62.0, 92.0)),
    ("throw_velo_km/h", "throw_speed", "km/h", (90.0, 130.0)),
    ("Wingspan (in)", "wingspan", "in", (64.0, 76.0)),
)
NOISE = st.lists(st.sampled_from(["Fen camp", "printed by the staff", "", "all stations"]), max_size=4)


@st.composite
def tables(draw: st.DrawFn):
    picked = draw(st.lists(st.sampled_from(MEASURES), min_size=1, max_size=4, unique_by=lambda m: m[1]))
    rows, truth = [], []
    for k in range(draw(st.integers(3, 9))):
        who, day = WHO[k % 4], date(2032, 6, 2) + timedelta(days=k)
        numbers = [round(draw(st.floats(*m[3])), 2) for m in picked]
        rows.append([ATHLETES[who], day, *numbers])
        truth += [
            (ATHLETES[who], day.isoformat(), m[1], m[2], n) for m, n in zip(picked, numbers, strict=True)
        ]
    spacer, notes, footer = draw(st.booleans()), draw(NOISE), draw(st.booleans())
    head = ["Player", "Date", *(m[0] for m in picked)]
    if spacer:
        head, rows = [*head[:2], "", *head[2:]], [[*r[:2], None, *r[2:]] for r in rows]
    last = [["Average", None, *[1.0] * (len(head) - 2)], ["checked by night staff"]] if footer else []
    return [[n] for n in notes], head, rows, last, truth


def read_back(name: str, content: bytes) -> list[tuple[str, str, str, str, float]]:
    (proposal,) = propose(name, content, KNOWN, {})
    assert proposal.ready, (proposal.problem, proposal.open)
    mapping = parse_mapping(proposal.mapping_text, name, KNOWN.catalogue)
    frame = cells_of(
        name, tidied(name, read_table(name, content, mapping.options), mapping.form), mapping, KNOWN.catalogue
    ).frame
    assert mapping.date_format in ("", "%d.%m.%Y")
    return [
        (
            r.athlete_text,
            iso(str(r.date_text)),
            r.measure_text,
            r.raw_unit,
            float(str(r.raw_value).replace(",", ".")),
        )
        for r in frame.itertuples()
    ]


def iso(text: str) -> str:
    return "-".join(reversed(text.split("."))) if "." in text else text


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(tables())
def test_a_workbook_comes_back_as_it_was_written(table):
    notes, head, rows, last, truth = table
    book = Workbook()
    for row in (*notes, head, *rows, *last):
        book.active.append(row)
    out = BytesIO()
    book.save(out)
    assert sorted(read_back("drawn.xlsx", out.getvalue())) == sorted(truth)


@settings(max_examples=60, deadline=None)
@given(tables(), st.sampled_from([";", "\t", "|"]), st.sampled_from(["utf-8", "utf-16", "utf-8-sig"]))
def test_a_text_file_with_decimal_commas_comes_back(table, mark, codec):
    notes, head, rows, last, truth = table

    def cell(value: object) -> str:
        if isinstance(value, date):
            return f"{value + timedelta(days=13):%d.%m.%Y}"  # from the 15th on: one order only
        return (
            "" if value is None else str(value).replace(".", ",") if isinstance(value, float) else str(value)
        )

    lines = [mark.join(cell(v) for v in row) for row in (*notes, head, *rows, *last)]
    moved = [(w, (date.fromisoformat(d) + timedelta(days=13)).isoformat(), *rest) for w, d, *rest in truth]
    assert sorted(read_back("drawn.txt", "\r\n".join(lines).encode(codec))) == sorted(moved)


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=400), st.sampled_from(["x.csv", "x.txt", "x.xlsx", "x.ods"]))
def test_any_bytes_are_a_proposal_or_a_reason(content, name):
    for proposal in propose(name, content, KNOWN, {}):
        assert proposal.problem or proposal.kind


@pytest.mark.slow
@settings(max_examples=150, deadline=None)
@given(st.lists(st.lists(st.text(alphabet="ab1,.-/ \"'%", max_size=5), max_size=5), max_size=8))
def test_any_table_is_a_proposal_or_a_reason(rows):
    text = "\n".join([",".join(row) for row in rows])
    for head in ("", "name,date,Wt (lb)\n"):
        for proposal in propose("x.csv", (head + text).encode(), KNOWN, {}):
            assert proposal.problem or proposal.kind


def test_an_athlete_called_max_is_no_footer_where_the_row_has_a_day():
    text = "name,date,Wt (lb)\n" + "".join(f"Max,2032-06-1{n},15{n}.5\n" for n in range(5)) + "Max,,155\n"
    (observed,) = propose("m.csv", text.encode(), KNOWN, {})
    assert observed.dropped == ((7, "Max"),)
    assert len(observed.samples) == 5
    assert observed.samples[0].value == f"{150.5 * 0.45359237:.3f} kg"
