import ast
import re
from datetime import date
from pathlib import Path

import pytest
from made import EXIT, MASS, SPRINT

from latewood.dashboard.text.wording import (
    THIN,
    age_text,
    chance_text,
    day_span,
    expected_by_chance,
    field_label,
    height_text,
    mass_scale,
    plain_number,
    scale_of,
    signed_number,
    sureness,
    verbatim,
    with_unit,
)
from latewood.pipeline.catalogue.load import load_catalogue

SCREENS_HOME = Path(__file__).parents[2] / "dashboard"
STATISTICIANS = re.compile(
    r"\b(intervals?|slopes?|variances?|logarithm\w*|quadratic|regression|residuals?|covarian\w*|quantiles?|"
    r"posterior|likelihood|heterogene\w*|p.values?)\b",
    re.IGNORECASE,
)


def plain(text: str) -> str:
    return text.replace(THIN, " ")


@pytest.mark.parametrize(
    ("value", "decimals", "expected"),
    [(0.0, 1, "0.0"), (-0.04, 1, "0.0"), (0.06, 1, "+0.1"), (-2.345, 2, "−2.35"), (1234.0, 0, "+1,234")],
)
def test_a_change_carries_its_sign_and_a_true_minus(value: float, decimals: int, expected: str) -> None:
    assert signed_number(value, decimals) == expected


def test_a_value_that_rounds_to_zero_has_no_minus() -> None:
    assert plain_number(-0.004, 2) == "0.00"


@pytest.mark.parametrize(
    ("measure", "system", "value", "expected"),
    [
        (EXIT, "us", 35.7632, "80.0 mph"),
        (EXIT, "metric", 35.7632, "128.7 km/h"),
        (MASS, "us", 72.0, "158.7 lb"),
        (MASS, "metric", 72.0, "72.0 kg"),
        (SPRINT, "us", 7.12, "7.12 s"),
        (SPRINT, "metric", 7.12, "7.12 s"),
    ],
)
def test_the_switch_changes_number_and_unit_together(measure, system, value, expected) -> None:
    assert plain(scale_of(measure, system).text(value)) == expected


def test_an_interval_is_converted_like_its_change() -> None:
    scale = mass_scale("us")
    assert scale.change(1.0) == with_unit("+2.2", "lb")
    assert scale.interval(-1.0, 3.0) == "−2.2 to +6.6"


def test_a_percentage_stands_next_to_its_sign() -> None:
    assert with_unit("12.0", "%") == "12.0%"
    assert with_unit("12", "") == "12"


@pytest.mark.parametrize(
    ("cm", "text"), [(180.34, "5 ft 11.0 in"), (182.85, "6 ft 0.0 in"), (152.4, "5 ft 0.0 in")]
)
def test_height_never_reads_twelve_inches(cm: float, text: str) -> None:
    assert height_text(cm, "us") == text


def test_age_counts_whole_months() -> None:
    assert age_text(date(2016, 3, 15), date(2032, 8, 14)) == "16 y 4 mo"
    assert age_text(date(2016, 3, 15), date(2032, 8, 15)) == "16 y 5 mo"
    assert age_text(None, date(2032, 8, 15)) == "age not known"


def test_a_chance_is_never_said_to_be_certain() -> None:
    assert [plain(chance_text(p)) for p in (0.0, 0.46, 1.0)] == ["under 1 %", "46 %", "over 99 %"]


@pytest.mark.parametrize(
    ("chance", "better", "clear", "expected"),
    [
        (0.999, "higher", True, "very likely better (over 99 %)"),
        (0.98, "lower", False, "leaning better (98 % at one look)"),
        (0.12, "higher", False, "leaning worse (88 % at one look)"),
        (0.998, "higher", False, "leaning better (over 99 % at one look)"),
        (0.93, "higher", True, "likely better (93 %)"),
        (0.5, "higher", False, "could be either way"),
        (0.99, "neither", True, "very likely up (99 %)"),
        (None, "higher", False, "cannot be said"),
    ],
)
def test_how_sure_is_said_in_words(chance, better, clear, expected) -> None:
    assert plain(sureness(chance, better, clear=clear)) == expected


def test_expected_false_verdicts() -> None:
    assert expected_by_chance([], 0.95) == ""
    assert "fewer than 1 of these 8 changes" in expected_by_chance([(4, 7)] * 8, 0.95)
    # 320 verdicts at the first of four looks: 320 x .05 / 4 to the power 3/2 today; 5 % of the stays at some time
    words = expected_by_chance([(4, 7)] * 320, 0.95)
    assert "about 2 of these 320 changes would look clear today" in words
    assert "about 16 at some time in the stay" in words


def test_dates_name_the_year_once() -> None:
    assert day_span(date(2033, 6, 13), date(2033, 8, 10)) == "13 Jun to 10 Aug 2033"
    assert day_span(date(2032, 12, 27), date(2033, 1, 3)) == "27 Dec 2032 to 3 Jan 2033"
    assert day_span(date(2033, 6, 13), date(2033, 6, 13)) == "13 Jun 2033"


def test_no_label_of_a_field_is_read_out_with_backslashes_and_markdown_is_still_escaped() -> None:
    catalogue = load_catalogue()
    own = [one.label for one in catalogue.measures.values()]
    own += [condition.label for one in catalogue.measures.values() for condition in one.conditions]
    assert len(own) > 60
    assert [text for text in own if "\\" in field_label(f"{text} (lb), trial 1")] == []
    signs = ("*a*", "_a_", "[a](b)", "a:smile:", "$x$", "# a", "1. a", "- a", "<b>", "a -> b")
    for text in (*signs, "https://a.example", "www.a.example"):
        assert field_label(text) == verbatim(text) != text


def test_the_screens_use_no_word_that_only_a_statistician_knows() -> None:
    """The glossary may: it says what such a word means, one tap below; so may patterns that find stored reasons."""
    shown = []
    for file in sorted(SCREENS_HOME.rglob("*.py")):
        if file.name in ("glossary.py", "plain_reasons.py"):
            continue
        tree = ast.parse(file.read_text(encoding="utf-8"))
        apart = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}  # docstrings
        shown += [
            (file.name, node.lineno, node.value)
            for node in ast.walk(tree)
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value
            if id(node) not in apart and STATISTICIANS.search(node.value)
        ]
    assert shown == []
