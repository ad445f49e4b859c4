"""The program's data folder: its settings, and where everything in it stands."""

from __future__ import annotations

import os
import tomllib
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from platformdirs import user_data_path

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.errors import CatalogueError

FOLLOWS = "LATEWOOD_FOLLOW"  # "1" in a server that builds by itself after values were typed

DEFAULT_PROGRAM = """# Settings of this program. Every line may be left out.
name = "My program"
invented = false               # true marks every screen and page as invented data
time_zone = "America/New_York" # dates of sessions are local to it unless a camp names its own
# contact = "recruiting desk, (555) 010-0199" # printed on summaries; families are never contacted directly
# clock = "2033-07-18"         # a fixed 'today' for training data; leave out for real data

[plans]                        # per cent of body mass a week; defaults from adult evidence
plan_percent = 0.25
ceiling_percent = 0.5
refer_percent = 1.0
"""
_TOP = {"name", "invented", "time_zone", "clock", "contact", "plans"}
_PLANS = {"plan_percent": 0.25, "ceiling_percent": 0.5, "refer_percent": 1.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Program:
    """The settings of one program, as its program.toml states them."""

    name: str = "My program"
    invented: bool = False
    time_zone: str = "America/New_York"
    clock: date | None = None
    contact: str = ""
    plan_percent: float = 0.25
    ceiling_percent: float = 0.5
    refer_percent: float = 1.0
    text: str = ""

    def now(self) -> datetime:
        """The time to write beside an action, at the program's place: the fixed clock's noon where there is one."""
        zone = ZoneInfo(self.time_zone)
        if self.clock is not None:
            return datetime.combine(self.clock, time(12), tzinfo=zone)
        return datetime.now(tz=zone).replace(microsecond=0)

    def today(self) -> date:
        """The date at the program's place, or the fixed clock."""
        return self.now().date()


def data_dir(given: Path | None = None) -> Path:
    """The data folder: the one given, else LATEWOOD_DATA, else the user's own data folder."""
    chosen = given or os.environ.get("LATEWOOD_DATA") or user_data_path("latewood", appauthor=False)
    return Path(chosen).expanduser().absolute()


def prepare_folder(root: Path) -> None:
    """Make the data folder, closed to other users, with its default settings; what is there stays as it is."""
    root.mkdir(mode=0o700, parents=True, exist_ok=True)
    for name in ("landing", "mappings", "warehouse"):
        (root / name).mkdir(parents=True, exist_ok=True)
    settings = root / "program.toml"
    if not settings.exists():
        settings.write_text(DEFAULT_PROGRAM, encoding="utf-8")


def load_program(root: Path) -> Program:
    """Return the program's settings, or the defaults where it has no program.toml.

    Raises CatalogueError naming the field and what is accepted.
    """
    path = root / "program.toml"
    return parse_program(path.read_text(encoding="utf-8")) if path.exists() else Program()


def parse_program(text: str) -> Program:
    """Return the settings that program.toml states, each checked."""
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise CatalogueError(f"program.toml: is not TOML ({error}); correct that line") from error
    unknown = sorted(set(raw) - _TOP)
    if unknown:
        raise CatalogueError(
            f"program.toml, {unknown[0]}: no such field; accepted are {', '.join(sorted(_TOP))}"
        )
    zone = str(raw.get("time_zone", "America/New_York"))
    check_zone(zone, "program.toml, time_zone")
    return Program(
        name=str(raw.get("name", "My program")),
        invented=bool(raw.get("invented", False)),
        time_zone=zone,
        clock=_clock(raw.get("clock")),
        contact=str(raw.get("contact", "")),
        text=text,
        **_plan_settings(raw.get("plans", {})),
    )


def check_zone(zone: str, where: str) -> None:
    """Raise CatalogueError where the time zone is not an IANA name."""
    try:
        ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise CatalogueError(
            f"{where}: {zone!r} is not a time zone; write one like America/Chicago"
        ) from error


def _clock(value: object) -> date | None:
    if value is None or isinstance(value, date):
        return value
    try:
        return date.fromisoformat(str(value))
    except ValueError as error:
        raise CatalogueError(
            f"program.toml, clock: {value!r} is not a date; write it like 2033-07-18"
        ) from error


def _plan_settings(raw: dict[str, Any]) -> dict[str, float]:
    settings = dict(_PLANS)
    for key, value in raw.items():
        if key not in _PLANS:
            raise CatalogueError(
                f"program.toml, [plans], {key}: no such field; accepted are {', '.join(_PLANS)}"
            )
        if not isinstance(value, int | float) or not 0 < value <= 1.5:
            raise CatalogueError(
                f"program.toml, [plans], {key}: {value!r} is not a number above 0 up to 1.5 (% a week)"
            )
        settings[key] = float(value)
    return settings


def program_catalogue(root: Path) -> Catalogue:
    """Return the catalogue with the program's own measures.toml laid over it."""
    path = root / "measures.toml"
    if not path.exists():
        return load_catalogue()
    return load_catalogue(path.read_text(encoding="utf-8"), str(path.name))
