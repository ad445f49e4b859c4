"""A mapping that is right reads; one that is wrong says which field and what is accepted."""

from __future__ import annotations

import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.errors import MappingError
from latewood.pipeline.ingest.files.mapping import parse_mapping

CATALOGUE = load_catalogue()
GOOD = """
name = "Gates"
applies_to = "gates_*.csv"
kind = "readings"
layout = "wide"
decimal = ","
date_format = "%d.%m.%Y"
[columns]
athlete = "Athlete"
measured_on = "Day"
[conditions]
timing = "electronic"
[[values]]
measure = "sprint_10yd"
columns = ["Split 10"]
unit = "s"
"""


def test_a_good_mapping_is_read() -> None:
    mapping = parse_mapping(GOOD, "gates.toml", CATALOGUE)
    assert mapping.name == "Gates"
    assert mapping.values[0].columns == ("Split 10",)
    assert mapping.matches("Gates_B.CSV")
    assert not mapping.matches("scale.csv")


@pytest.mark.parametrize(
    ("before", "after", "message"),
    [
        ('layout = "wide"', 'layout = "broad"', "layout: 'broad' is not one of 'long', 'wide'"),
        ('name = "Gates"', 'nam = "Gates"', "nam: no such field; accepted are"),
        ('decimal = ","', 'decimal = ";"', "decimal: ';' is not one of"),
        ('athlete = "Athlete"', 'person = "Athlete"', r"\[columns\], person: no such field"),
        ('measure = "sprint_10yd"', 'measure = "sprint_11yd"', "'sprint_11yd' is not in the catalogue"),
        ('unit = "s"', 'unit = "kg"', "unit 'kg' is not accepted for sprint_10yd; accepted are"),
        ('columns = ["Split 10"]', "columns = []", "columns: name the columns with the trials"),
        (
            'unit = "s"',
            'unit = "s"\nconditions = { delivery = "tee" }',
            "delivery: not a condition of this measure",
        ),
        ('unit = "s"', 'unit = "s"\nconditions = { timing = "sundial" }', "'sundial' is not one of"),
        ("[columns]", "[columns", "is not TOML"),
        (
            'date_format = "%d.%m.%Y"',
            'date_format = "dd.mm.yyyy"',
            "date_format: 'dd.mm.yyyy' names no day and month",
        ),
        ('unit = "s"', "", "sprint_10yd: states no unit; accepted are"),
        ('columns = ["Split 10"]', 'columns = ["Split 10", "Split 10"]', "column 'Split 10' is used twice"),
        ('unit = "s"', 'unit = "s"\ninches = "In"', "inches: needs a length, and one column of feet"),
    ],
)
def test_a_wrong_mapping_says_which_field(before: str, after: str, message: str) -> None:
    with pytest.raises(MappingError, match=message):
        parse_mapping(GOOD.replace(before, after), "gates.toml", CATALOGUE)
