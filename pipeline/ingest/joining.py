"""Joins two ids of one athlete: what both hold side by side, why they cannot be one, and the decision."""

from __future__ import annotations

from contextlib import closing
from dataclasses import asdict, dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import duckdb

from latewood.pipeline.errors import DecisionError
from latewood.pipeline.ingest.build.run import BuildSummary, build
from latewood.pipeline.ingest.build.settle import record_decision
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.logs import decisions as decided
from latewood.pipeline.ingest.logs.joins import JOIN, LOG, STAGE, check_join, joins_of
from latewood.pipeline.ingest.people.joined import contradicting
from latewood.pipeline.ingest.plans.plan_forms import Running, running_plans
from latewood.pipeline.ingest.program import load_program
from latewood.pipeline.warehouse.connection import open_published, read_sql

FACTS = ("Name", "Other names", "Born", "Sex", "Sport", "Class of", "Stays", "Readings", "Open plans")
_SURE = {"birth_date": "birth dates", "sex": "sexes"}


@dataclass(frozen=True, slots=True, kw_only=True)
class StayHeld:
    """A stay of one id."""

    camp: str
    arrived_on: date
    until: date


@dataclass(frozen=True, slots=True, kw_only=True)
class IdHeld:
    """What the published build holds under one id."""

    athlete_id: str
    display_name: str
    birth_date: date | None
    sex: str | None
    sport: str | None
    graduation_year: int | None
    n_readings: int
    n_days: int
    first_day: date | None
    last_day: date | None
    aliases: tuple[str, ...]
    stays: tuple[StayHeld, ...]
    plans: tuple[Running, ...]

    def facts(self) -> tuple[str, ...]:
        """What it holds, one text for each of FACTS."""
        days = f" on {self.n_days} days, {self.first_day} to {self.last_day}" if self.n_days else ""
        stays = (f"{one.camp}, {one.arrived_on} to {one.until}" for one in self.stays)
        known = (self.birth_date, self.sex, self.sport, self.graduation_year)
        return (
            self.display_name, ", ".join(self.aliases) or "none", *(str(one or "not known") for one in known),
            "; ".join(stays) or "none", f"{self.n_readings}{days}",
            ", ".join(one.plan_id for one in self.plans) or "none",
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinPreview:
    """Both ids side by side, and why they cannot be joined; '' where they can."""

    joined: IdHeld
    kept: IdHeld
    refusal: str

    @property
    def side_by_side(self) -> tuple[tuple[str, str, str], ...]:
        """Each fact with what the joined id holds and what the kept one does."""
        return tuple(zip(FACTS, self.joined.facts(), self.kept.facts(), strict=True))


def preview(root: Path, joined_id: str, into: str) -> JoinPreview:
    """What both ids hold. Raises DecisionError where one is unknown or the joins on record do not allow it."""
    check_join(decided.read(root / LOG), joined_id, into)
    joined, kept = _held(root, joined_id), _held(root, into)
    return JoinPreview(joined=joined, kept=kept, refusal=_refusal(joined, kept))


def join(
    root: Path, joined_id: str, into: str, given: decided.Answer, *, build_after: bool = True
) -> BuildSummary | None:
    """Write down that an id is another's from now on, and build; the action of what is given follows from it.

    Raises DecisionError where it cannot be: see `preview`, and where the two cannot be one athlete.
    """
    shown = preview(root, joined_id, into)
    if shown.refusal:
        raise DecisionError(shown.refusal)
    landed = 1 + max((one.sequence for one in landing.manifests(root / "landing")), default=-1)
    targets = {joined_id: {"stage": STAGE, "argument": into, "landed": str(landed)}}
    record_decision(root, replace(given, action=JOIN), targets, load_program(root))
    return build(root) if build_after else None


def _held(root: Path, athlete_id: str) -> IdHeld:
    with closing(open_published(root)) as connection:
        row = _row(connection, athlete_id)
        if row is None:
            raise DecisionError(_unknown(root, connection, athlete_id))
        stays = connection.execute(read_sql("read/join_stays.sql"), {"athlete": athlete_id}).fetchall()
    return IdHeld(
        **{**row, "aliases": tuple(row["aliases"] or ())},
        stays=tuple(StayHeld(camp=camp, arrived_on=first, until=last) for camp, first, last in stays),
        plans=running_plans(root, athlete_id, load_program(root).today()),
    )


def _row(connection: duckdb.DuckDBPyConnection, athlete_id: str) -> dict[str, Any] | None:
    cursor = connection.execute(read_sql("read/join_side.sql"), {"athlete": athlete_id})
    names, row = [column[0] for column in cursor.description], cursor.fetchone()
    return None if row is None else dict(zip(names, row, strict=True))


def _unknown(root: Path, connection: duckdb.DuckDBPyConnection, athlete_id: str) -> str:
    built = connection.execute("select 1 from joined_name where joined_id = ?", [athlete_id]).fetchone()
    if built and athlete_id not in joins_of(root).of:
        return f"{athlete_id}: its join was taken back and is not built yet; run `latewood build` first"
    return f"athlete {athlete_id!r} is not on any roster; see `latewood athletes`"


def _refusal(joined: IdHeld, kept: IdHeld) -> str:
    both = f"{joined.athlete_id} and {kept.athlete_id}"
    ours, theirs = asdict(kept), asdict(joined)
    field = contradicting(theirs, ours)
    if field:
        return (
            f"{both}: their {_SURE[field]} differ ({theirs[field]} and {ours[field]}), so they are two athletes; where "
            "one is a typing error, correct that roster and import it again"
        )
    for one in joined.stays:
        for other in kept.stays:
            if one.camp != other.camp and one.arrived_on <= other.until and other.arrived_on <= one.until:
                return (
                    f"{both}: were at two camps at once ({one.camp} from {one.arrived_on}, {other.camp} from "
                    f"{other.arrived_on}); where a stay is wrong, correct that file and import it again"
                )
    for plan in joined.plans:
        for beside in kept.plans:
            if plan.start_on <= beside.target_on and beside.start_on <= plan.target_on:
                return f"{both}: each has an open weight plan ({plan.plan_id} and {beside.plan_id}); end one first"
    return ""
