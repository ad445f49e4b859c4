"""A raw trace lies outside the warehouse: it is read for whoever may see the trial it belongs to, and nobody else."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from latewood.dashboard.reads import movement_reads, warehouse
from latewood.dashboard.reads import read as read_module
from latewood.pipeline.errors import ForbiddenError
from latewood.pipeline.stats.movement.results import OrderChange, PeakOrder
from tests.dashboard.athlete.test_order_words import CHANGE
from tests.dashboard.athlete.test_trace_sheet import row
from tests.two_camps import viewer_of

AT_K, AT_L = date(2033, 6, 14), date(2033, 9, 14)


@pytest.mark.parametrize("role", ["director", "data_steward"])
def test_roles_without_observations_read_no_movement(role, data_folder) -> None:
    build = warehouse.published(viewer_of(role))
    for read in (movement_reads.traces, movement_reads.orders, movement_reads.changes):
        with pytest.raises(ForbiddenError):
            read(build, "T1")
    with pytest.raises(ForbiddenError):
        movement_reads.drawn(build, "T1", "feed", 2)


def test_a_trace_that_is_not_the_athletes_is_refused(data_folder, monkeypatch) -> None:
    build = warehouse.published(viewer_of("performance_coach"))
    monkeypatch.setattr(movement_reads, "_drawn", lambda *key: key)
    monkeypatch.setattr(read_module, "_cached", lambda *_: (row(import_id="a1", row_no=2),))
    assert movement_reads.drawn(build, "T1", "a1", 2)[2:] == ("a1", 2)
    for import_id, row_no in (("a1", 3), ("b2", 2)):
        with pytest.raises(ForbiddenError, match="not among those"):
            movement_reads.drawn(build, "T1", import_id, row_no)


def test_another_camps_athlete_is_refused(data_folder) -> None:
    build = warehouse.published(viewer_of("performance_coach", camps={"L"}))
    for read in (movement_reads.traces, movement_reads.orders, movement_reads.changes):
        with pytest.raises(ForbiddenError):
            read(build, "T1")
    assert movement_reads.traces(build, "T3") == ()


def test_a_change_from_a_day_at_another_camp_is_not_shown(data_folder, monkeypatch) -> None:
    build = warehouse.published(viewer_of("performance_coach", camps={"L"}))
    within = replace(CHANGE, athlete_id="T3", from_on=AT_L, to_on=AT_L)
    across = replace(within, from_on=AT_K)
    observed = [PeakOrder(**{**dict.fromkeys(PeakOrder.__dataclass_fields__), "measured_on": AT_L})]  # type: ignore[arg-type]
    monkeypatch.setattr(movement_reads, "orders", lambda *_: tuple(observed))
    monkeypatch.setattr(movement_reads, "_order_changes", lambda *_: (within, across))
    result: tuple[OrderChange, ...] = movement_reads.changes(build, "T3")
    assert result == (within,)
