"""What drawn starts of weight plans could tell in one camp, from the program's own data, and the draw itself."""

from __future__ import annotations

import secrets
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path
from typing import Final

import duckdb
import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.chances import chance_text
from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.errors import DesignError
from latewood.pipeline.ingest.logs import start_draws
from latewood.pipeline.ingest.program import load_program, program_catalogue
from latewood.pipeline.stats.engine.session_lines import comparable_sessions
from latewood.pipeline.stats.links.link_design import LINKED_FAMILIES, MASS_GAP_DAYS, carry, day_numbers
from latewood.pipeline.stats.links.staggered_design import (
    Spread,
    StaggeredDesign,
    spread_of,
    staggered_design,
)
from latewood.pipeline.stats.links.start_draw import by_mass
from latewood.pipeline.stats.plans.rules import PlanSettings
from latewood.pipeline.warehouse.connection import open_published, read_sql

OTHER_WAITS: Final = (2, 3, 4, 6, 8)  # weeks
LAST_WEEKS: Final = 2.0  # that the last group is on plan at least
YEAR: Final = 365.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """What is asked: days of the starts in order, weeks between test days; None takes the program's own number."""

    camp_id: str
    measure: str
    starts: tuple[date, ...]
    every: float = 2.0
    per_kg: float | None = None  # in the measure's own unit
    kg_per_week: float | None = None
    leave_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Designed:
    """Who would be drawn, who not and why, and what the analysis would tell; others: by weeks between starts."""

    ask: Ask
    measure: Measure
    athletes: tuple[str, ...]  # by body mass
    out: tuple[tuple[str, str], ...]
    found: StaggeredDesign
    others: tuple[tuple[int, float], ...]
    own_link: bool


def design(root: Path, ask: Ask) -> Designed:
    """Return what a draw of this camp would tell, from the published build.

    Raises DesignError naming what is missing or does not fit.
    """
    measure = _measure(root, ask)
    if len(ask.starts) < 2 or list(ask.starts) != sorted(set(ask.starts)):
        raise DesignError(
            "starts: two or more different days in order are needed, like 2033-01-10,2033-02-21"
        )
    with open_published(root) as connection:
        stays = _rows(connection, "design_athletes", {"camp": ask.camp_id, "first": ask.starts[0]})
        if stays.empty:
            raise DesignError(f"camp {ask.camp_id!r} has no stays; import its stays, or name another camp")
        inside, out = _eligible(stays, ask)
        line, output, mass = _spreads(connection, measure)
        per_kg = ask.per_kg if ask.per_kg is not None else _own_link(connection, measure, line)
    if not np.isfinite(per_kg) or per_kg == 0.0:
        raise DesignError(f"--per-kg {per_kg:g}: give the number that is to be shown to differ from zero")
    gain = _gain(root, float(inside["kg"].mean()), ask)
    starts, tests = _weeks(inside, ask)
    reported = partial(
        staggered_design, len(inside), tests=tests, per_kg=per_kg, kg_per_week=gain, output=output, mass=mass
    )
    try:
        result = reported(starts)
    except ValueError as error:
        raise DesignError(f"camp {ask.camp_id}: {error}{_reasons(out)}") from error
    waits = {w: [starts[0] + w * k for k in range(len(starts))] for w in OTHER_WAITS}
    fits = {w: moved for w, moved in waits.items() if moved != starts and moved[-1] <= tests[-1] - LAST_WEEKS}
    return Designed(
        ask=ask, measure=measure, athletes=by_mass(list(inside["athlete_id"]), list(inside["kg"])), out=out,
        found=result, others=tuple((w, reported(moved).power) for w, moved in fits.items()),
        own_link=ask.per_kg is None,
    )  # fmt: skip


def declare(root: Path, designed: Designed, by: str) -> start_draws.StartDraw:
    """Draw the groups with a seed that nobody picks, write the draw down, and return it."""
    draw = start_draws.Draw(
        camp_id=designed.ask.camp_id, seed=secrets.randbits(31), starts=designed.ask.starts,
        athletes=designed.athletes,
    )  # fmt: skip
    return start_draws.write(root, draw, by)


def _measure(root: Path, ask: Ask) -> Measure:
    measures = program_catalogue(root).measures
    result = measures.get(ask.measure)
    if result is None or result.family not in LINKED_FAMILIES:
        known = ", ".join(k for k, m in measures.items() if m.family == "skill_output")
        raise DesignError(f"measure {ask.measure!r}: is no test of output; name one like {known}")
    return result


def _rows(
    connection: duckdb.DuckDBPyConnection, name: str, parameters: Mapping[str, str | date]
) -> pd.DataFrame:
    return connection.execute(read_sql(f"read/{name}.sql"), dict(parameters)).df()


def _eligible(stays: pd.DataFrame, ask: Ask) -> tuple[pd.DataFrame, tuple[tuple[str, str], ...]]:
    """The stays that may be drawn, and why each of the others may not."""
    unknown = sorted(set(ask.leave_out) - set(stays["athlete_id"]))
    if unknown:
        raise DesignError(
            f"athlete {unknown[0]!r} has no stay at camp {ask.camp_id}; see `latewood athletes`"
        )
    kept: list[int] = []
    out: dict[str, str] = {}
    taken: set[str] = set()
    for at, (_, row) in enumerate(stays.iterrows()):
        name = str(row["athlete_id"])
        reason = "a second stay" if name in taken else _why_not(row, ask)
        if reason:
            out.setdefault(name, reason)
        else:
            kept.append(at)
            taken.add(name)
    if not kept:
        raise DesignError(f"camp {ask.camp_id}: nobody may be drawn{_reasons(tuple(out.items()))}")
    return stays.iloc[kept], tuple((name, why) for name, why in out.items() if name not in taken)


def _reasons(out: Sequence[tuple[str, str]]) -> str:
    counts = Counter(why for _, why in out).most_common()
    reported = ", ".join(f"{n} {why}" for why, n in counts)
    return (
        f" (not in the draw: {reported}); name earlier days or fewer groups"
        if reported
        else "; name fewer groups"
    )


def _why_not(row: pd.Series, ask: Ask) -> str:
    first, last = pd.Timestamp(ask.starts[0]), pd.Timestamp(ask.starts[-1])
    youngest = PlanSettings().youngest
    if row["athlete_id"] in ask.leave_out:
        return "left out as asked"
    born = row["birth_date"]
    if pd.isna(born) or (first - pd.Timestamp(born)).days / YEAR < youngest:
        return f"under {youngest:g} on the first day, or no birth date"
    if pd.Timestamp(row["arrived_on"]) > first or pd.Timestamp(row["until"]) <= last:
        return "not at the camp from the first start to after the last"
    if row["on_plan"]:
        return "already on a plan"
    if row["plan_asked"]:
        return "with a plan that waits for an answer"
    return "no body mass yet" if pd.isna(row["kg"]) else ""


def _spreads(connection: duckdb.DuckDBPyConnection, measure: Measure) -> tuple[str, Spread, Spread]:
    """The line tested most, and how its sessions and body mass on their days scatter."""
    sessions = _rows(connection, "design_sessions", {"measure": measure.key})
    trend = _rows(connection, "design_mass", {})
    rows = comparable_sessions(sessions, {measure.key: measure})
    if rows.empty:
        raise DesignError(f"{measure.label} has no sessions yet; import those of earlier camps first")
    line = str(rows["line"].value_counts().sort_index().idxmax())
    rows = rows[rows["line"] == line].reset_index(drop=True)
    rows["mass"] = carry(trend, rows, ("smoothed_kg",), day="on_date", within_days=MASS_GAP_DAYS)[:, 0]
    rows = rows[np.isfinite(rows["mass"])]
    stay, weeks = rows["stay_id"].to_numpy(dtype=object), rows["t"].to_numpy(dtype=float)
    try:
        output, mass = (spread_of(stay, weeks, rows[c].to_numpy(dtype=float)) for c in ("value", "mass"))
    except ValueError as error:
        raise DesignError(
            f"{measure.label}: how tests scatter is not known ({error}); import earlier camps first"
        ) from error
    return line, output, mass


def _own_link(connection: duckdb.DuckDBPyConnection, measure: Measure, line: str) -> float:
    link = connection.execute(
        read_sql("read/design_link.sql"), {"measure": measure.key, "line": line}
    ).fetchone()
    if link is None or link[0] is None:
        why = f" ({link[1]})" if link and link[1] else ""
        raise DesignError(f"{measure.label}: the program has no number per kg yet{why}; give one by --per-kg")
    return float(link[0])


def _gain(root: Path, kg: float, ask: Ask) -> float:
    """Kg a week on plan: what is asked about, within the program's ceiling, else what its plans offer."""
    program = load_program(root)
    if ask.kg_per_week is None:
        return program.plan_percent / 100.0 * kg
    ceiling = program.ceiling_percent / 100.0 * kg
    if not 0.0 < ask.kg_per_week <= ceiling:
        raise DesignError(
            f"--gain {ask.kg_per_week:g}: above 0 and up to the program's ceiling for these athletes, "
            f"{ceiling:.2f} kg a week, are accepted"
        )
    return ask.kg_per_week


def _weeks(inside: pd.DataFrame, ask: Ask) -> tuple[list[float], list[float]]:
    """Starts and test days in weeks since the middle arrival; tests every so many weeks until the middle exit."""
    arrived = int(np.sort(day_numbers(inside["arrived_on"]))[len(inside) // 2])
    until = int(np.sort(day_numbers(inside["until"]))[len(inside) // 2])
    stay = (until - arrived) / 7.0
    if not 0.5 <= ask.every <= stay:
        raise DesignError(
            f"every {ask.every:g} weeks: from half a week to the stay's {stay:.0f} are accepted"
        )
    tests = np.arange(0.0, stay + 1e-9, ask.every)
    days = day_numbers(pd.Series(list(ask.starts)))
    return [float(one) for one in (days - arrived) / 7.0], [float(one) for one in tests]


def parse_days(text: str) -> tuple[date, ...]:
    """Days as '2033-01-10,2033-02-21'. Raises DesignError where one is none."""
    try:
        return tuple(date.fromisoformat(part.strip()) for part in text.split(","))
    except ValueError as error:
        raise DesignError(f"starts {text!r}: days with commas between, like 2033-01-10,2033-02-21") from error


def share_text(shares: Sequence[tuple[int, float]]) -> str:
    """Chances by weeks of waiting, as '4 weeks 5 %, 6 weeks 8 %'."""
    return ", ".join(f"{wait} weeks {chance_text(share)}" for wait, share in shares)
