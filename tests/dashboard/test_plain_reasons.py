"""Reasons at first sight are short and plain; the exact one of the warehouse is below a tap, word for word."""

from __future__ import annotations

from contextlib import closing

import pytest

from latewood.dashboard.charts.drawing import exact, refused
from latewood.dashboard.text.plain_reasons import plain_reason
from latewood.pipeline.warehouse.connection import open_published
from tests.reading_level import grade

TABLES = ("athlete_link", "mass_link", "strength_link", "mass_or_strength", "projection", "relative_strength")
TOO_EXACT = ("interval", "spans", "effective", "steady rate", "standard error", "zero", "constant")


@pytest.fixture(scope="module")
def reasons(demo_root) -> list[str]:
    query = " union ".join(f"select distinct reason from {table} where reason <> ''" for table in TABLES)
    with closing(open_published(demo_root)) as connection:
        return [row[0] for row in connection.execute(query).fetchall()]


def test_every_reason_of_the_demo_has_plain_words(reasons: list[str]) -> None:
    plain = {plain_reason(one) for one in reasons}
    assert len(plain) > 5
    assert not [one for one in plain for word in TOO_EXACT if word in one]
    assert max(len(one) for one in plain) <= 60
    assert max(grade([one if one.endswith(".") else f"{one}."]) for one in plain) <= 9.0


def test_the_exact_reason_stands_below_the_plain_one(reasons: list[str]) -> None:
    for reason in reasons:
        drawn = refused(reason)
        assert drawn.index(plain_reason(reason)[:9]) < len(drawn)
        if plain_reason(reason) != reason:
            assert "<summary>Not shown. " in drawn
            assert drawn.count("lw-small") == 1


def test_a_line_without_more_to_say_does_not_open() -> None:
    assert "<details" not in exact("plain", ["", ""])
    assert "&lt;b&gt;" in exact("<b>", ["<i>"])
    assert "<i>" not in exact("<b>", ["<i>"])
