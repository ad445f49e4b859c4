"""The commands that measure: fits beside their references, and pages that say whether an aim is met."""

from __future__ import annotations

from pathlib import Path

import pytest

from latewood.pipeline.stats.plans.massvariance import STAYS_LIMIT
from tests.bench import fits, speed_parts, stages
from tests.bench.fast import FastLane, fast_lines
from tests.bench.fits import Fitted, fit_lines, measure_fit
from tests.bench.speed import Aim, fit_aim, page, table
from tests.bench.stages import Measured
from tests.reliability.kill import prepared
from tests.tools.load import Memory, Opened, Setting
from tests.tools.load import page as load_page

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
    text = load_page(result, memory, SETTING)
    assert "| data | 20 | 0.20 | 1.01 | 12 |" in text
    assert "under 1.5 s: not met (athlete, one 1.96)." in text
    assert "| MB | 200 | 260 |" in text
    assert "under 1.5 s: met." in load_page(opened("data", 0.2, 0.3), memory, SETTING)


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


AIMS = [
    Aim(what="memory", where="demo", measured=1.3, goal=1, unit="GB"),
    Aim(what="scans", where="demo", measured=9.0, goal=10, unit="bare scans", beside="2 CPU s"),
    Aim(what="traces", where="", measured=154_168.4, goal=1e6, unit="lines a CPU second", more=True),
    Aim(what="memory", where="10,000,000", measured=None, goal=4, unit="GB"),
    Aim(what="fit", where="demo", measured=0.25, goal=None, unit="s"),
]


def test_the_table_of_aims_says_what_is_met_where_more_is_better_too_and_what_was_not_run() -> None:
    assert table(AIMS)[2:] == [
        "| memory | demo | 1.30 GB | 1 | not met |  |",
        "| scans | demo | 9 bare scans | 10 | met | 2 CPU s |",
        "| traces |  | 154,168 lines a CPU second | 1,000,000 | not met |  |",
        "| memory | 10,000,000 | – GB | 4 | not run |  |",
        "| fit | demo | 0.25 s | – |  |  |",
    ]
    assert "1 of 3 goals met; 1 not run." in page(AIMS, (0.5, 1.0))


def test_a_fit_says_what_was_not_tried_and_what_is_not_installed() -> None:
    aim = fit_aim(
        "demo", {"athletes": 222, "sums": 0.1, "fit": 0.3, "statsmodels": 4.4, "lme4": None, "apart": 4e-9}
    )
    assert (aim.measured, aim.beside) == (
        0.4,
        "statsmodels 11.0 ×; lme4 not installed or too slow; apart 4e-09 SD",
    )


def test_a_command_is_timed_with_its_memory_and_one_that_fails_is_told() -> None:
    ran = speed_parts.command("--version")
    assert ran.words.startswith("latewood ")
    assert ran.cpu > 0.0
    assert 0.005 < ran.peak_gigabytes < 1.0
    with pytest.raises(RuntimeError, match="latewood nonsense"):
        speed_parts.command("nonsense")


def test_a_bare_scan_of_a_built_folder_takes_time(tmp_path: Path, rows_only) -> None:
    assert speed_parts.bare_scan(prepared(tmp_path)).cpu > 0.0
