"""The commands that measure: fits beside their references, and pages that say whether an aim is met."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.bench import fits, speed_parts
from tests.bench.fits import measure_fit
from tests.bench.speed import Aim, fit_aim, growth_aim, more_aims, page, table
from tests.reliability.kill import prepared
from tests.tools.load import Memory, Opened, Setting
from tests.tools.load import page as load_page

SETTING = Setting(pause=10.0, seconds=60.0, readings=1_000, athletes=20, load=0.1, idle=90.0)


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


def test_the_page_of_many_people_names_the_screens_that_are_over() -> None:
    result = [*opened("data", *[0.2] * 18, 1.0, 1.2), *opened("athlete, one", 1.4, 1.6, 2.0)]
    memory = [Memory(screens=0, megabytes=200.0), Memory(screens=200, megabytes=260.0)]
    text = load_page(result, memory, SETTING)
    assert "| data | 20 | 0.20 | 1.01 | 12 |" in text
    assert "under 1.5 s: not met (athlete, one 1.96)." in text
    assert "| MB | 200 | 260 |" in text
    assert "under 1.5 s: met." in load_page(opened("data", 0.2, 0.3), memory, SETTING)


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


def test_growth_is_judged_between_the_two_largest_sizes() -> None:
    aim = growth_aim({1_000_000: 2.0, 55_000: 1.9, 10_000_000: 40.0}, 10_000_000)
    assert aim.measured == pytest.approx(1.301, abs=0.001)
    assert (aim.where, aim.verdict) == ("1,000,000 to 10,000,000", "not met")


def test_goals_of_a_large_folder_that_did_not_build_are_told_as_not_run(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    failed = speed_parts.Ran(clock=9.0, cpu=8.0, peak_gigabytes=1.0, code=1, words="no memory")
    monkeypatch.setattr(speed_parts, "landed", lambda root, _: root)
    monkeypatch.setattr(speed_parts, "command", lambda *_, **__: failed)
    aims = list(more_aims(10_000_000, {1_000_000: 2.0, 55_000: 1.9}))
    assert [aim.verdict for aim in aims] == ["not run"] * 4


def test_a_command_is_timed_with_its_memory_and_one_that_fails_is_told() -> None:
    ran = speed_parts.command("--version")
    assert ran.words.startswith("latewood ")
    assert ran.cpu > 0.0
    assert 0.005 < ran.peak_gigabytes < 1.0
    with pytest.raises(RuntimeError, match="latewood nonsense"):
        speed_parts.command("nonsense")


def test_a_bare_scan_of_a_built_folder_takes_time(tmp_path: Path, rows_only) -> None:
    assert speed_parts.bare_scan(prepared(tmp_path)).cpu > 0.0
