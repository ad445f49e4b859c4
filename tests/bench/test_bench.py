"""The commands that measure: fits beside their references, and pages that say whether an aim is met."""

from __future__ import annotations

from pathlib import Path

import pytest

from latewood.pipeline.stats.plans.massvariance import STAYS_LIMIT
from tests.bench import fits, stages
from tests.bench.aims import Aim, aim_lines
from tests.bench.fast import FastLane, fast_lines
from tests.bench.fits import Fitted, fit_lines, measure_fit
from tests.bench.stages import Measured
from tests.tools.load import Memory, Opened, Setting, page

SETTING = Setting(pause=10.0, seconds=60.0, readings=1_000, athletes=20, load=0.1, idle=90.0)

MEASURED = Measured(
    readings=999_836, athletes=2_000, megabytes=43.8, scan=0.35, landing=2.5, build=37.2, results=8_000,
    first_read=0.06, weighin=26.1, peak_gigabytes=2.94,
)  # fmt: skip


def opened(screen: str, *seconds: float) -> list[Opened]:
    return [Opened(screen=screen, seconds=one, kilobytes=12.0) for one in seconds]


def test_the_fit_from_sums_has_the_coefficients_of_statsmodels() -> None:
    result = measure_fit(40)
    assert result.statsmodels is not None
    assert result.apart is not None
    assert 0.0 < result.apart < fits.AGREE


def test_coefficients_apart_end_the_command(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fits, "AGREE", 1e-15)
    with pytest.raises(ValueError, match=r"40 athletes: coefficients are .* session SD apart"):
        measure_fit(40)


def test_the_page_of_fits_says_what_was_not_tried_and_how_far_the_aim_is() -> None:
    one = Fitted(athletes=100_000, sums=1.0, fit=7.5, statsmodels=None, lme4=30.0, apart=2e-8)
    text = "\n".join(fit_lines([one]))
    assert "| 100,000 | 1.00 | 7.50 | not tried | 30.0 | not tried | 2e-08 |" in text
    assert "fitted in under 5 s: not met, by 2.5 s." in text


def test_the_page_of_many_people_names_the_screens_that_are_over() -> None:
    result = [*opened("data", *[0.2] * 18, 1.0, 1.2), *opened("athlete, one", 1.4, 1.6, 2.0)]
    memory = [Memory(screens=0, megabytes=200.0), Memory(screens=200, megabytes=260.0)]
    text = page(result, memory, SETTING)
    assert "| data | 20 | 0.20 | 1.01 | 12 |" in text
    assert "under 1.5 s: not met (athlete, one 1.96)." in text
    assert "| MB | 200 | 260 |" in text
    assert "under 1.5 s: met." in page(opened("data", 0.2, 0.3), memory, SETTING)


def test_the_page_foretells_no_memory_and_names_how_many_stays_the_variances_are_pooled_over() -> None:
    made = stages._aims([MEASURED])
    page_text = (Path(__file__).parents[2] / "docs" / "benchmarks.md").read_text(encoding="utf-8")
    for text in ("\n".join(made), page_text):
        assert f"most {STAYS_LIMIT} stays spread over all" in text
        assert "not foretold" in text
        assert "in proportion from" not in text
        assert "pooled over all" not in text


def test_the_page_says_whether_a_typed_weigh_in_is_there_in_time() -> None:
    made = FastLane(typed=3, one=0.31, all=0.42)
    text = "\n".join(fast_lines(made, "on the demo"))
    assert "under 0.5 CPU seconds: met, 0.31 s on the demo; 0.42 s with 3 typed" in text
    slow = FastLane(typed=3, one=0.61, all=0.7)
    assert "not met, 0.61 s" in "\n".join(fast_lines(slow, "on the demo"))


def test_the_table_of_aims_says_what_is_met_where_more_is_better_too() -> None:
    aims = [
        Aim(what="memory", measured=1.3, goal=1, unit="GB"),
        Aim(what="scans", measured=9.0, goal=10, unit="bare scans"),
        Aim(what="traces", measured=154_168.4, goal=1e6, unit="lines a CPU second", more=True),
    ]
    assert aim_lines(aims, 2.0)[-4:] == [
        "| memory | 1.3 GB | 1 | not met |",
        "| scans | 9.0 bare scans | 10 | met |",
        "| traces | 154,168 lines a CPU second | 1,000,000 | not met |",
        "",
    ]
