"""Laws of trace files: layout, unit of time, rate and decimal sign change nothing but how a file is written."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.ingest.files.mapping import parse_mapping
from latewood.pipeline.ingest.files.reading import read_table
from latewood.pipeline.ingest.files.trace_cells import trace_cells
from tests.calibration.study_traces import bell

CATALOGUE = load_catalogue()
SEGMENTS = {"Pelvis": (620.0, -0.118, 50), "Torso": (980.0, -0.082, 45), "Bat": (2100.0, -0.012, 24)}
HEAD = """
name = "x"
kind = "traces"
layout = "{layout}"
decimal = "{decimal}"
delimiter = ";"
[columns]
athlete = "Who"
measured_on = "Day"
trial = "No"
time = "Time"
event = "Mark"
{more}
[conditions]
action = "swing"
event = "contact"
"""


def file_of(layout: str, in_ms: bool, rate: int, decimal: str, trials: int, order: list[int]) -> str:
    step = np.arange(round(-0.35 * rate), round(0.15 * rate) + 1) / rate
    rows = []
    for trial in range(1, trials + 1):
        curves = {
            name: bell(step, at, width, height + 5 * trial) for name, (height, at, width) in SEGMENTS.items()
        }
        for k, t in enumerate(step):
            stamp = f"{(t - step[0]) * (1000 if in_ms else 1):.{3 if in_ms else 6}f}"
            mark = "contact" if k == round(0.35 * rate) else ""
            rows.append((trial, stamp, [f"{curves[name][k]:.2f}" for name in SEGMENTS], mark))
    if layout == "wide":
        names = [list(SEGMENTS)[i] for i in order]
        lines = [";".join(["Who", "Day", "No", "Time", *names, "Mark"])]
        lines += [
            ";".join(["T1", "2032-06-20", str(n), stamp, *(cells[i] for i in order), mark])
            for n, stamp, cells, mark in rows
        ]
    else:
        lines = ["Who;Day;No;Time;Part;Speed;Mark"]
        lines += [
            ";".join(["T1", "2032-06-20", str(n), stamp, list(SEGMENTS)[i], cells[i], mark])
            for i in order
            for n, stamp, cells, mark in rows
        ]
    body = "\n".join(lines) + "\n"
    return body.replace(".", decimal) if decimal == "," else body


def mapping_of(layout: str, decimal: str):
    keys = {name: f"{name.lower()}_peak_speed" for name in SEGMENTS}
    more = 'measure = "Part"\nvalue = "Speed"' if layout == "long" else ""
    text = HEAD.format(layout=layout, decimal=decimal, more=more)
    if layout == "long":
        text += "[measure_names]\n" + "".join(f'"{n}" = "{k}"\n' for n, k in keys.items())
        text += "[units]\n" + "".join(f'{k} = "deg/s"\n' for k in keys.values())
    else:
        text += "".join(
            f'[[values]]\nmeasure = "{k}"\ncolumns = ["{n}"]\nunit = "deg/s"\n' for n, k in keys.items()
        )
    return parse_mapping(text, "x.toml", CATALOGUE)


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from(["wide", "long"]),
    st.booleans(),
    st.sampled_from([100, 125, 200, 240, 333, 500, 1000]),
    st.sampled_from([".", ","]),
    st.integers(min_value=1, max_value=3),
    st.permutations([0, 1, 2]),
)
def test_a_trace_file_gives_its_peaks_however_it_is_written(
    layout, in_ms, rate, decimal, trials, order
) -> None:
    mapping = mapping_of(layout, decimal)
    content = file_of(layout, in_ms, rate, decimal, trials, list(order)).encode()
    result = trace_cells("a.csv", read_table("a.csv", content, mapping.options), mapping, CATALOGUE)
    assert len(result.channels) == 3 * trials
    assert set(result.channels["state"]) == {"measured"}
    assert result.channels["rate_hz"].to_numpy() == pytest.approx(rate, rel=0.001)
    for line in result.channels.itertuples():
        height, at, _ = SEGMENTS[line.measure.removesuffix("_peak_speed").capitalize()]
        assert line.speed == pytest.approx(
            height + 5 * int(line.trial_text), rel=0.012
        )  # what 25 Hz takes off
        assert line.ms_from_event == pytest.approx(
            at * 1000, abs=0.6 + 1000 / rate / 2
        )  # the mark is a sample


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.text(max_size=8), st.text(max_size=8)), min_size=1, max_size=40))
def test_no_text_in_time_and_speed_is_read_as_a_peak_of_its_own(cells) -> None:
    body = "Who;Day;No;Time;Pelvis;Torso;Bat;Mark\n" + "".join(
        f"T1;2032-06-20;1;{_bare(t)};{_bare(v)};;;\n" for t, v in cells
    )
    mapping = mapping_of("wide", ".")
    table = read_table("a.csv", body.encode(), mapping.options)
    result = trace_cells("a.csv", table, mapping, CATALOGUE) if _has_number(cells) else None
    if result is not None:
        assert set(result.channels["state"]) == {"missing"}  # fewer than a trace needs
        assert (result.channels["reason"] != "").all()


def _bare(text: str) -> str:
    return "".join(c for c in text if c.isprintable() and c.isascii() and c not in ';"')


def _has_number(cells) -> bool:
    def number(text: str) -> bool:
        try:
            return bool(np.isfinite(float(_bare(text).strip())))
        except ValueError:
            return False

    return any(number(value) for _, value in cells)


@settings(max_examples=15, deadline=None)
@given(st.sampled_from(["wide", "long"]), st.randoms(use_true_random=False))
def test_trials_whose_lines_are_mixed_are_the_trials_read_apart(layout, random) -> None:
    mapping = mapping_of(layout, ".")
    head, *lines = file_of(layout, False, 200, ".", 3, [2, 0, 1]).splitlines()
    apart = [line for n in "123" for line in lines if line.split(";")[2] == n]
    waiting = [[line for line in apart if line.split(";")[2] == n] for n in "123"]
    mixed = []
    while any(waiting):
        mixed.append(random.choice([some for some in waiting if some]).pop(0))
    first, second = (
        trace_cells(
            "a.csv",
            read_table("a.csv", "\n".join([head, *body]).encode(), mapping.options),
            mapping,
            CATALOGUE,
        )
        for body in (apart, mixed)
    )
    keys = ["trial_text", "measure"]
    tables = [
        one.channels.drop(columns="row_no").sort_values(keys, ignore_index=True) for one in (first, second)
    ]
    assert tables[0].equals(tables[1])
    begins = second.channels.groupby("trial_text", sort=False)["row_no"].min()
    assert list(begins) == sorted(begins)
