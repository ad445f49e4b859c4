"""Which test days, trials and pairs let a camp see how large a change, and what they cost in minutes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from latewood.pipeline.catalogue.model import Measure, SummaryRule
from latewood.pipeline.errors import DesignError
from latewood.pipeline.ingest.program import program_catalogue
from latewood.pipeline.stats.change.protocol import Schedule, Seen, SessionNoise, seen
from latewood.pipeline.warehouse.connection import open_published, read_sql

MINUTES_A_TEST: Final = 3.0  # to call, warm up and set up one athlete; common practice, no source
MINUTES_A_TRIAL: Final = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class CampTests:
    """How a camp is tested in one measure now: the schedule, the noise, and who is measured."""

    measure: Measure
    line: str  # in words: what was alike
    now: Schedule
    noise: SessionNoise
    athletes: int


def camp_tests(root: Path, camp: str, measure: str) -> CampTests:
    """Return how the camp is tested now, from the published build. Raises DesignError naming what is missing."""
    known = program_catalogue(root).measures.get(measure)
    if known is None:
        raise DesignError(f"--measure {measure}: not in the catalogue; `latewood measures` lists them")
    named = {"measure": measure, "camp": camp}
    with open_published(root) as connection:
        noise = connection.execute(read_sql("read/schedule_noise.sql"), named).fetchone()
        weeks, every = connection.execute(read_sql("read/schedule_now.sql"), named).fetchone() or (None, None)
    if noise is None or weeks is None:
        raise DesignError(f"camp {camp!r} has no test of {measure} in a stay; name another camp or measure")
    line, error, trial_sd, trials, athletes = noise
    if error is None:
        raise DesignError(
            f"{measure} in camp {camp!r}: the noise of a test day is not known; test some athletes twice"
        )
    if every is None:
        raise DesignError(
            f"{measure} in camp {camp!r}: nobody was tested on two days; test some athletes again first"
        )
    return CampTests(
        measure=known,
        line=line,
        now=Schedule(weeks=float(weeks), every=float(every), twice=False, trials=max(round(trials), 1)),
        noise=SessionNoise(session=error, trial=trial_sd or 0.0, trials=float(trials), summary=known.summary),
        athletes=int(athletes),
    )


def choices(tests: CampTests) -> tuple[Schedule, ...]:
    """The schedule as it is and what may be changed in it: one thing at a time."""
    now = tests.now
    more = (replace(now, trials=2 * now.trials),) if _trials_help(tests) else ()
    return (now, replace(now, twice=True), *more, replace(now, every=now.every / 2.0))


def _trials_help(tests: CampTests) -> bool:
    return tests.noise.trial > 0.0 and tests.measure.summary in (SummaryRule.MEDIAN, SummaryRule.MEAN)


def outlook(tests: CampTests, schedules: tuple[Schedule, ...]) -> Iterator[Seen]:
    """What each schedule lets the camp see, one after the other. Raises DesignError where there are too few tests."""
    for one in schedules:
        try:
            yield seen(one, tests.noise, tests.athletes, tests.measure)
        except ValueError as error:
            raise DesignError(f"every {one.every:g} weeks: {error}") from error


def minutes(one: Seen) -> float:
    """Minutes of testing of one athlete over the stay."""
    return one.sessions * (MINUTES_A_TEST + MINUTES_A_TRIAL * one.plan.trials)
