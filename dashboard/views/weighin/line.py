"""Who is next at a station: the state of each athlete, and what a browser sends of what was typed at its pad."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from math import isfinite
from typing import Any, Final

from latewood.dashboard.text.wording import count_of
from latewood.pipeline.ingest.logs.entered import ABSENT, LOOK_BACK_DAYS, TypedEntry

AT_ONCE: Final = 500  # entries of one sending: a camp with its trials fits
LONGEST: Final = 400  # characters of one text


@dataclass(frozen=True, slots=True, kw_only=True)
class InLine:
    """One athlete in the line of a station: the trials saved, and why they cannot be measured, where that is noted."""

    athlete_id: str
    name: str
    saved: Mapping[int, TypedEntry]  # by trial
    absent: TypedEntry | None = None

    @property
    def is_over(self) -> bool:
        """Whether they no longer have to come today."""
        return bool(self.saved) or self.absent is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """One entry as a browser sends it; `instead_of` is the id of the value that the browser knew to be saved."""

    entry: TypedEntry
    instead_of: str
    answered: frozenset[str]  # questions that were answered with yes


def standings(
    names: Mapping[str, str],
    saved: Mapping[tuple[str, int], TypedEntry],
    absences: Iterable[TypedEntry],
    measure: str,
) -> tuple[InLine, ...]:
    """The athletes of a station, in the order of their names."""
    why = {one.athlete_id: one for one in absences if one.measure == measure}
    trials: dict[str, dict[int, TypedEntry]] = {}
    for (athlete, trial), entry in saved.items():
        trials.setdefault(athlete, {})[trial] = entry
    return tuple(
        InLine(athlete_id=who, name=name, saved=trials.get(who, {}), absent=why.get(who))
        for who, name in names.items()
    )


def tally_text(line: Collection[InLine]) -> str:
    """How many are measured, cannot be, and are to come."""
    done = sum(bool(one.saved) for one in line)
    cannot = sum(one.absent is not None and not one.saved for one in line)
    parts = [f"Saved today: {done} of {len(line)}."]
    parts += [f"Cannot today: {cannot}."] if cannot else []
    to_come = len(line) - done - cannot
    parts.append(
        f"To come: {to_come}." if to_come else f"Nobody is to come: {count_of(len(line), 'athlete')}."
    )
    return " ".join(parts)


def absence_text(entry: TypedEntry) -> str:
    """Why somebody cannot be measured, in the words of the short list."""
    return f"cannot test today: {ABSENT.get(entry.absent, ABSENT['other'])}"


def sent_entries(
    value: object, present: Collection[str], today: date
) -> tuple[dict[str, Sent], dict[str, str]]:
    """What a browser sent, by its own ids, and why others of it cannot be taken; nothing of it is trusted."""
    taken: dict[str, Sent] = {}
    refused: dict[str, str] = {}
    entries = value.get("entries") if isinstance(value, Mapping) else None
    for one in entries[:AT_ONCE] if isinstance(entries, list) else ():
        if not isinstance(one, Mapping) or not _text(one, "id"):
            continue
        try:
            taken[_text(one, "id")] = _sent(one, present, today)
        except (TypeError, ValueError) as error:
            refused[_text(one, "id")] = str(error)
    return taken, refused


def _sent(one: Mapping[str, Any], present: Collection[str], today: date) -> Sent:
    athlete, absent, value = _text(one, "athlete"), _text(one, "absent"), _text(one, "value")
    if athlete not in present:
        raise ValueError("this athlete is not at the camp picked above; pick their camp")
    if absent not in {"", *ABSENT} or (not absent and not isfinite(float(value))):
        raise ValueError("this is no number; type it again")
    on = date.fromisoformat(_text(one, "on"))
    if not 0 <= (today - on).days <= LOOK_BACK_DAYS:
        raise ValueError(f"it was typed on {on}, too long ago; import it as a file")
    conditions = one.get("conditions")
    answered = one.get("answered")
    return Sent(
        entry=TypedEntry(
            entry_id="", at="", by=_text(one, "by"), athlete_id=athlete, measure=_text(one, "measure"),
            measured_on=on.isoformat(), value="" if absent else value, unit=_text(one, "unit"),
            trial=int(one.get("trial", 1)), absent=absent, sent_id=_text(one, "id"),
            conditions={str(k): str(v) for k, v in conditions.items()} if isinstance(conditions, Mapping) else {},
        ),
        instead_of=_text(one, "instead_of"),
        answered=frozenset(str(text) for text in answered) if isinstance(answered, list) else frozenset(),
    )  # fmt: skip


def _text(one: Mapping[str, Any], key: str) -> str:
    value = one.get(key, "")
    if not isinstance(value, str) or len(value) > LONGEST:
        raise ValueError(f"'{key}' cannot be read; type it again")
    return value
