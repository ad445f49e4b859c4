"""Reads for the Monday screen: what waits, what is new since the viewer's last visit, and the note of this visit."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import streamlit as st

from latewood.dashboard.actions import plan_actions, steward_actions
from latewood.dashboard.reads import consent_reads, guard, plan_reads, rows, warehouse
from latewood.dashboard.reads.read import Read, circle
from latewood.dashboard.views.monday.monday_lines import (
    BUILDS,
    CONSENTS,
    GAINS,
    HELD,
    PLANS,
    RESULTS,
    TESTS,
    WEIGHINS,
    Found,
    Unusable,
)
from latewood.dashboard.views.monday.monday_tests import CampDay, DoneOn
from latewood.pipeline.access import Viewer
from latewood.pipeline.catalogue import handles
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.logs import build_notes, conclusions
from latewood.pipeline.ingest.logs.entered import TypedEntry
from latewood.pipeline.ingest.people import visits
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.stats.change.results import RetestAdvice

AT_THE_MACHINE = "the person at the machine"
LOOK_BACK_DAYS = 7

_test_days = Read(row=CampDay, kind="roster", table="test_day", order="camp_id, on_date")
_tests_done = Read(row=DoneOn, kind="athlete", by=("body_mass", "today"), query="tests_done")
_retests = Read(
    row=RetestAdvice, kind="athlete", where="extra = 1", order="chance_clear desc, stay_id, measure, line"
)
_unusable = Read(row=Unusable, kind="athlete", by=("body_mass", "today"), query="unusable")


def gather(build: rows.Build, today: date, topics: frozenset[str]) -> Found:
    """What the topics need, bounded to the viewer's camps, and the note that they looked at this build today."""
    visit = visits.note_visit(data_dir(), build.viewer.email or AT_THE_MACHINE, today, build.build_id)
    now, trouble = _now(build)
    then = None if visit.before is None else _then(visit.before.build_id)
    return Found(
        visit=visit,
        record=plan_reads.record(build) if topics & {PLANS, WEIGHINS} else None,
        typed=_typed(build, today) if WEIGHINS in topics else frozenset(),
        absences=_absences(build, today) if topics & {WEIGHINS, TESTS} else (),
        calendar=_test_days(build) if TESTS in topics else (),
        tested=_tested(build, today) if TESTS in topics else (),
        retests=_retests(build) if GAINS in topics else (),
        unusable=_unusable(build, handles.BODY_MASS, today.isoformat()) if GAINS in topics else (),
        now=_bounded(build, now, topics),
        then=_bounded(build, then, topics),
        held=warehouse.held_rows(build) if HELD in topics else (),
        unplaced=consent_reads.unplaced(build.viewer) if CONSENTS in topics else (),
        failed=failed(build.viewer) if BUILDS in topics else (),
        knows_why=build.viewer.holds("import"),
        behind=BUILDS in topics and steward_actions.is_behind(build.viewer, build),
        troubles=tuple(one for one in (visit.trouble, trouble) if one),
    )


def failed(viewer: Viewer) -> tuple[build_notes.FailedBuild, ...]:
    """The failed builds since the last good one; none for a viewer who may not build."""
    if not viewer.holds("rebuild"):
        return ()
    try:
        return build_notes.failed_builds(data_dir())
    except LatewoodError:
        return ()


def _now(build: rows.Build) -> tuple[conclusions.Conclusions | None, str]:
    """What the published build concludes, kept for the next visit; with what went wrong in words."""
    try:
        result = _concluded(str(data_dir()), build.build_id)
    except LatewoodError as error:
        return None, str(error)
    try:
        conclusions.keep(data_dir(), result)
    except OSError as error:
        return result, f"what stands here today cannot be kept for the next visit ({error.strerror})"
    return result, ""


@st.cache_resource(max_entries=4, show_spinner="Reading what the build concludes")
def _concluded(folder: str, build_id: str) -> conclusions.Conclusions:
    return conclusions.conclude(Path(folder), build_id)


def _then(build_id: str) -> conclusions.Conclusions | None:
    """What the build of the last visit concluded; None where it is no longer kept."""
    path = conclusions.path_of(data_dir(), build_id)
    try:
        written = path.stat().st_mtime_ns
    except OSError:
        return None
    return _kept(str(data_dir()), build_id, written)


@st.cache_resource(max_entries=8, show_spinner="Reading what was known at your last visit")
def _kept(folder: str, build_id: str, written: int) -> conclusions.Conclusions | None:
    """Read once for each writing of the file: an erasure writes it anew."""
    return conclusions.kept(Path(folder), build_id)


def _bounded(
    build: rows.Build, found: conclusions.Conclusions | None, topics: frozenset[str]
) -> conclusions.Conclusions | None:
    """The part of a build's conclusions that the viewer's roles hold, in their camps."""
    if found is None:
        return None
    trends = _inside(build, "athlete", found.trends) if topics & {RESULTS, GAINS} else ()
    plans = _inside(build, "plan", found.plans) if PLANS in topics else ()
    imports = found.imports if build.viewer.holds("import") else frozenset[str]()
    n_open = found.n_open if HELD in topics else 0
    return replace(found, trends=trends, plans=plans, imports=imports, n_open=n_open)


def _inside(build: rows.Build, right: str, found: tuple[guard.Row, ...]) -> tuple[guard.Row, ...]:
    camps = build.viewer.camps_for(right)
    if camps is None:
        return found
    return guard.within(found, circle(str(data_dir()), build.build_id, camps))


def _tested(build: rows.Build, today: date) -> tuple[DoneOn, ...]:
    return _tests_done(build, handles.BODY_MASS, today.isoformat())


def _typed(build: rows.Build, today: date) -> frozenset[str]:
    """Athletes whose mass was typed within a week and may not be built yet, as far as the viewer may see entries."""
    if not build.viewer.holds("entry"):
        return frozenset()
    days = (today - timedelta(days=back) for back in range(LOOK_BACK_DAYS))
    result = (one for on in days for one in plan_actions.entries(build, on))
    return frozenset(one.athlete_id for one in result if one.measure == handles.BODY_MASS)


def _absences(build: rows.Build, today: date) -> tuple[TypedEntry, ...]:
    """Who was noted within a week as not to be measured, as far as the viewer may see entries."""
    if not build.viewer.holds("entry"):
        return ()
    days = (today - timedelta(days=back) for back in range(LOOK_BACK_DAYS))
    return tuple(one for on in days for one in plan_actions.absences(build, on))
