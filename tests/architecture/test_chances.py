"""One scale of words for chances: screens, exports and command line say the same of the same chance."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from latewood.dashboard.text import glossary, wording
from latewood.pipeline.catalogue.chances import (
    SCALE,
    chance_text,
    chance_word,
    is_likely,
    is_unlikely,
    scale_text,
)
from latewood.pipeline.cli import design_words
from latewood.pipeline.ingest.plans.start_design import share_text
from latewood.pipeline.stats.plans import words

ROOT = Path(__file__).parents[2]
CHANCES = [*np.linspace(0.0, 1.0, 401).tolist(), 0.0001, 0.9999]
# Where a chance may be turned into text; all others ask these.
OWN = {"pipeline/catalogue/chances.py"}
WRITTEN = re.compile(r"\* *\w*\.?\w*(?:chance|power|mass_known|probability)\w*(?:\[at\])?:\.0f")


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_the_scale_covers_every_chance_once_and_goes_down() -> None:
    bounds = [step.at_least for step in SCALE]
    assert bounds == sorted(set(bounds), reverse=True)
    assert bounds[-1] == 0.0
    assert len({step.words for step in SCALE}) == len(SCALE)


def test_the_scale_is_the_same_from_both_ends() -> None:
    """A chance of 30 % of a gain is one of 70 % of none: the middle word is said of both, or of neither."""
    middle = SCALE[2].words
    for percent in range(101):
        one, other = chance_word(percent / 100), chance_word(1 - percent / 100)
        if percent not in {25, 5, 75, 95}:  # the ends themselves belong to the word above
            assert (one == middle) == (other == middle), percent
            assert one.startswith("very") == other.startswith("very"), percent


@pytest.mark.parametrize("chance", CHANCES)
def test_a_word_agrees_with_the_number_beside_it(chance: float) -> None:
    shown = chance_text(chance)
    full = float(re.findall(r"\d+", shown)[0]) - (0.5 if shown.startswith("under") else 0.0)
    assert chance_word(chance) == next(step.words for step in SCALE if full >= 100 * step.at_least)
    assert is_unlikely(chance) == ("unlikely" in chance_word(chance))
    assert is_likely(chance) == (chance_word(chance) in {"likely", "very likely"})
    assert shown not in {"0 %", "100 %"}


@pytest.mark.parametrize("chance", CHANCES)
def test_screens_plan_reasons_and_command_line_write_a_chance_alike(chance: float) -> None:
    assert plain(wording.chance_text(chance)) == chance_text(chance)
    assert words._share(chance) == chance_text(chance)
    assert share_text([(4, chance)]) == f"4 weeks {chance_text(chance)}"
    if chance >= 0.5:
        assert plain(wording.sureness(chance, "higher", clear=True)) == (
            f"{chance_word(chance)} better ({chance_text(chance)})"
        )
    assert not any(step.words in wording.sureness(chance, "higher", clear=False) for step in SCALE)


@pytest.mark.parametrize("power", [0.02, 0.1, 0.5, 0.8, 0.99])
def test_the_command_line_judges_a_design_in_the_same_words(power: float) -> None:
    result = SimpleNamespace(
        tests=(0.0, 10.0), power=power, n_athletes=20, starts=(date(2033, 6, 1),) * 2, per_kg=0.25
    )
    measure = SimpleNamespace(unit="m/s")
    written = design_words._verdict(SimpleNamespace(found=result, measure=measure, own_link=True))
    assert written.endswith(f"is {chance_text(power)}: this design is {chance_word(power)} to tell.")


def test_the_glossary_gives_the_whole_scale() -> None:
    assert any(scale_text() in term.sentence for term in glossary.TERMS)


def test_no_module_writes_a_chance_in_a_way_of_its_own() -> None:
    result = [
        f"{path.relative_to(ROOT)}: {hit.group(0)}"
        for folder in ("pipeline", "dashboard")
        for path in sorted((ROOT / folder).rglob("*.py"))
        if str(path.relative_to(ROOT)) not in OWN
        for hit in WRITTEN.finditer(path.read_text(encoding="utf-8"))
    ]
    assert result == []
