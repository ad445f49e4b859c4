"""Whatever bytes a motion file has: it is read, or refused in one line that names the file, and soon."""

from __future__ import annotations

import time

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.mapping import parse_mapping
from latewood.pipeline.ingest.files.reading import read_motion, read_table
from tests.motion_files import MAPPING, SECONDS, c3d_bytes, markers, storage_text

OPTIONS = parse_mapping(MAPPING, "m.toml", load_catalogue()).options
WHOLE = c3d_bytes(markers(), {"Gyro 1": np.zeros(len(SECONDS))}, units=["deg/s"], angles=["C7"])
STORED = storage_text({"a": SECONDS, "b": SECONDS}).encode()
PARAMETERS = 4096  # bytes from the start in which header and parameters stand
LONGEST = 10.0  # s; a reader that runs away on a few bytes would take minutes
Edits = list[tuple[int, int]]


def garbled(content: bytes, cut: int, edits: Edits) -> bytes:
    made = bytearray(content[: len(content) - cut])
    for at, value in edits:
        if made:
            made[at % len(made)] = value
    return bytes(made)


def outcome(name: str, content: bytes) -> str:
    """The refusal, or '' where the file is read; anything else is raised."""
    began = time.monotonic()
    try:
        read_motion(name, content)
        read_table(name, content, OPTIONS)
    except FileUnreadableError as error:
        text = str(error)
    else:
        text = ""
    assert time.monotonic() - began < LONGEST
    return text


def check(name: str, text: str) -> None:
    if text:
        assert text.startswith(name)
        assert text.isprintable()
        assert len(text) < 600
        assert ";" in text or "," in text  # the fix stands last


anywhere = st.tuples(st.integers(0, PARAMETERS), st.integers(0, 255))


@settings(max_examples=150, deadline=None)
@given(cut=st.integers(0, len(WHOLE)), edits=st.lists(anywhere, max_size=6))
def test_a_c3d_file_with_wrong_bytes_is_read_or_refused_in_one_line(cut: int, edits: Edits) -> None:
    check("a.c3d", outcome("a.c3d", garbled(WHOLE, cut if cut % 3 == 0 else 0, edits)))


@settings(max_examples=60, deadline=None)
@given(body=st.binary(max_size=2000))
def test_any_bytes_behind_the_sign_of_c3d_are_refused_in_one_line(body: bytes) -> None:
    text = outcome("a.c3d", b"\x02\x50" + body)
    assert text
    check("a.c3d", text)


@settings(max_examples=100, deadline=None)
@given(
    cut=st.integers(0, len(STORED)),
    edits=st.lists(st.tuples(st.integers(0, 400), st.integers(0, 255)), max_size=4),
)
def test_a_storage_file_with_wrong_bytes_is_read_or_refused_in_one_line(cut: int, edits: Edits) -> None:
    check("a.sto", outcome("a.sto", garbled(STORED, cut if cut % 3 == 0 else 0, edits)))
