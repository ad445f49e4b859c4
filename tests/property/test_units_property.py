"""Laws of conversion and of lines that hold for any value."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.catalogue.lookup import find_value, line_label, line_of, parse_line
from latewood.pipeline.catalogue.model import NOT_STATED, Condition, Measure
from latewood.pipeline.catalogue.units import UNITS, convert, find_unit, linear, parse_length

CATALOGUE = load_catalogue()
BY_QUANTITY = [
    [unit.symbol for unit in UNITS.values() if unit.quantity == quantity]
    for quantity in sorted({unit.quantity for unit in UNITS.values()})
]
siblings = st.sampled_from(BY_QUANTITY).flatmap(lambda symbols: st.tuples(*[st.sampled_from(symbols)] * 3))
values = st.floats(min_value=-1e6, max_value=1e6, allow_nan=False)


@given(values, siblings)
def test_there_and_back_again(value: float, units: tuple[str, str, str]) -> None:
    there, back, _ = units
    # Two roundings of a factor and two of a product: a few parts in 1e16 of the value.
    assert convert(convert(value, there, back), back, there) == pytest.approx(value, rel=1e-14, abs=1e-300)


@given(siblings)
def test_a_detour_does_not_change_the_factor(units: tuple[str, str, str]) -> None:
    first, middle, last = units
    assert linear(first, middle) * linear(middle, last) == pytest.approx(linear(first, last), rel=1e-15)


@given(values, values, siblings)
def test_order_is_kept(low: float, high: float, units: tuple[str, str, str]) -> None:
    source, target, _ = units
    low, high = sorted((low, high))
    assert convert(low, source, target) <= convert(high, source, target)


@given(values, st.sampled_from(list(UNITS)))
def test_a_unit_into_itself_changes_no_bit(value: float, unit: str) -> None:
    assert convert(value, unit, unit) == value


@given(st.sampled_from([s for u in UNITS.values() for s in (u.symbol, *u.spellings)]), st.data())
def test_case_spaces_and_dots_do_not_matter(spelling: str, data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(spelling)))
    upper = "".join(letter.upper() if data.draw(st.booleans()) else letter for letter in spelling)
    assert find_unit(f" {upper[:place]} {upper[place:]}. ") is find_unit(spelling)


@given(st.integers(3, 7), st.integers(0, 11), st.sampled_from(["{}'{}\"", "{}-{}", "{} ft {} in", "{}’ {}”"]))
def test_feet_and_inches_are_read_as_inches(feet: int, inches: int, form: str) -> None:
    assert parse_length(form.format(feet, inches)) == pytest.approx((12 * feet + inches) * 2.54, rel=1e-15)


@given(st.integers(3, 7), st.floats(0, 11.9), st.floats(0, 11.9))
def test_more_inches_are_a_greater_length(feet: int, one: float, other: float) -> None:
    low, high = (parse_length(f"{feet}'{inches:.2f}") for inches in sorted((one, other)))
    assert low is not None
    assert high is not None
    assert low <= high


@st.composite
def stated(draw: st.DrawFn) -> tuple[Measure, dict[str, str]]:
    measure = draw(st.sampled_from([m for m in CATALOGUE.measures.values() if m.conditions]))
    choices = {
        c.key: st.sampled_from([*c.values, NOT_STATED, "", "no such word"]) for c in measure.conditions
    }
    return measure, draw(st.fixed_dictionaries({}, optional=choices))


@given(stated())
def test_a_line_states_what_was_stated_and_nothing_else(case: tuple[Measure, dict[str, str]]) -> None:
    measure, conditions = case
    line = line_of(measure, conditions)
    read = parse_line(line)
    assert list(read) == [c.key for c in measure.must_match]
    for condition in measure.must_match:
        given_value = conditions.get(condition.key, "")
        expected = given_value if given_value in condition.values else NOT_STATED
        assert read[condition.key] == expected
    assert line_of(measure, read) == line


@given(stated())
def test_different_lines_have_different_labels(case: tuple[Measure, dict[str, str]]) -> None:
    measure, conditions = case
    line = line_of(measure, conditions)
    for condition in measure.must_match:
        for value in condition.values:
            other = line_of(measure, {**conditions, condition.key: value})
            assert (line_label(measure, other) == line_label(measure, line)) is (other == line)


@given(st.sampled_from([c for m in CATALOGUE.measures.values() for c in m.conditions]), st.data())
def test_every_value_and_spelling_is_found(condition: Condition, data: st.DataObject) -> None:
    pairs = [*((value, value) for value in condition.values), *condition.spellings]
    text, value = data.draw(st.sampled_from(pairs))
    assert find_value(condition, text.upper()) == value
