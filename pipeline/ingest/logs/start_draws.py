"""The log of drawn starts: which athletes of a camp were in the draw, its seed and its days; only added to.

Which athlete begins when is not written down: it follows from the seed and their place, so that no start can be chosen
and called drawn. A camp is drawn once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Any, Final

from latewood.pipeline import durable
from latewood.pipeline.errors import DesignError, LandingError
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.ingest.logs.audited import append_audited, note_late
from latewood.pipeline.ingest.logs.lines import read_lines, rewrite, whole_bytes
from latewood.pipeline.ingest.program import load_program
from latewood.pipeline.stats.links.draw_order import drawn_groups

LOG: Final = "start_draws.jsonl"
LOCK: Final = ".start_draws.lock"
ERASED: Final = ""
NOTED: Final = ("draw", "seed", "athletes", "starts")


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """Starts of a camp as they are drawn; athletes by body mass, the heaviest first."""

    camp_id: str
    seed: int
    starts: Sequence[date]
    athletes: Sequence[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class StartDraw:
    """One line of the log; athletes by body mass on the day of the draw, the heaviest first ('' where erased)."""

    camp_id: str
    seed: int
    starts: tuple[str, ...]  # days as 2033-01-10, in order
    athletes: tuple[str, ...]
    at: str
    by: str

    def start_of(self) -> tuple[tuple[str, date], ...]:
        """Each athlete with the day on which their plan is to begin, in the order of the draw."""
        groups = drawn_groups(len(self.athletes), len(self.starts), self.seed)
        days = [date.fromisoformat(one) for one in self.starts]
        return tuple((name, days[g]) for name, g in zip(self.athletes, groups, strict=True))


def read_log(root: Path) -> tuple[StartDraw, ...]:
    """Every draw in the order in which they were made. Raises LandingError naming a line it cannot read."""
    return tuple(_draw(number, record) for number, record in read_lines(whole_bytes(root / LOG), LOG))


def _draw(number: int, record: dict[str, Any]) -> StartDraw:
    try:
        made = StartDraw(
            camp_id=str(record["camp_id"]),
            seed=int(record["seed"]),
            starts=tuple(date.fromisoformat(one).isoformat() for one in record["starts"]),
            athletes=tuple(str(one) for one in record["athletes"]),
            at=str(record["at"]),
            by=str(record["by"]),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise LandingError(
            f"{LOG}, line {number}: is not a draw ({error}); restore the file from a backup"
        ) from error
    if list(made.starts) != sorted(set(made.starts)) or len(made.starts) < 2 or not made.athletes:
        raise LandingError(
            f"{LOG}, line {number}: two or more different days in order and athletes are needed; restore the file "
            "from a backup"
        )
    return made


def write(root: Path, draw: Draw, by: str) -> StartDraw:
    """Write a draw down. Raises DesignError where the camp was drawn before or the first start is past."""
    program = load_program(root)
    if min(draw.starts) < program.today():
        raise DesignError(
            f"the first start, {min(draw.starts)}, is past; a draw is made before anybody begins: name later days"
        )
    with durable.locked(root / LOCK):
        known = read_log(root)
        if known:
            note_late(root, "draw", known[-1].by, noted(known[-1]))
        if any(one["draw"] == draw.camp_id for one in logged(root)):
            raise DesignError(
                f"camp {draw.camp_id}: its starts were drawn already; a second draw would be a choice, keep to the "
                "first"
            )
        made = StartDraw(
            camp_id=draw.camp_id,
            seed=draw.seed,
            starts=tuple(one.isoformat() for one in draw.starts),
            athletes=tuple(draw.athletes),
            at=program.now().isoformat(),
            by=by,
        )
        append_audited(root, root / LOG, asdict(made), by, noted(made))
    return made


def noted(made: StartDraw) -> audit.Details:
    """What the audit log says of a draw: a seed or a day that was changed later no longer fits it."""
    days = ", ".join(made.starts)
    return {"draw": made.camp_id, "seed": made.seed, "athletes": len(made.athletes), "starts": days}


def logged(root: Path) -> list[dict[str, Any]]:
    """What the audit log says of every draw that was made, in the form of `noted`; also of one whose line is gone."""
    reported = [line.details for line in audit.lines(root)]
    return [{key: details.get(key) for key in NOTED} for details in reported if "draw" in details]


def forget(root: Path, athlete_id: str) -> int:
    """Take an athlete's id out of every draw, their place stays empty; return 1 where the log changed."""

    def change(record: dict[str, Any]) -> dict[str, Any]:
        return {**record, "athletes": [ERASED if one == athlete_id else one for one in record["athletes"]]}

    with durable.locked(root / LOCK):
        return int(bool(rewrite(root / LOG, change)))
