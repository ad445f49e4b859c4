"""One table of a measures file, read field by field, every mistake named with its place and its fix."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NoReturn

from latewood.pipeline.errors import CatalogueFieldError


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a field: the fault, what was given, what is accepted, and the fix."""

    wrong: str
    got: object
    accepted: str
    fix: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TomlEntry:
    """A table as TOML gave it, with the words that say where it stands."""

    origin: str
    kind: str  # "measure" or "condition"
    key: str
    table: Mapping[str, object]

    def refuse(self, field: str, fault: Fault) -> NoReturn:
        """Never returns: raises CatalogueError with the place of the fault and all that it says."""
        got = fault.got
        shown = f"'{got}'" if isinstance(got, str) else "nothing" if got is None else f"{got}"
        raise CatalogueFieldError(
            f"{self.origin}, {self.kind} '{self.key}'",
            field,
            f"{fault.wrong} (got {shown}; accepted: {fault.accepted}); {fault.fix}",
        )

    def check_fields(self, accepted: Sequence[str]) -> None:
        """Raise CatalogueError where the table holds a field that is none of `accepted`."""
        for field in self.table:
            if field not in accepted:
                near = difflib.get_close_matches(field, accepted, n=1)
                fix = f"write '{near[0]}'" if near else "remove the field"
                self.refuse(field, Fault("unknown field", field, ", ".join(accepted), fix))

    def has(self, field: str) -> bool:
        """Whether the table states the field."""
        return field in self.table

    def _given(self, field: str, accepted: str) -> object:
        if field not in self.table:
            self.refuse(field, Fault("missing", None, accepted, "add the field"))
        return self.table[field]

    def text(self, field: str, default: str | None = None, accepted: str = "a text") -> str:
        """The text of a field; without a default it must be there and not be blank."""
        if default is not None and field not in self.table:
            return default
        value = self._given(field, accepted)
        if not isinstance(value, str) or (default is None and not value.strip()):
            self.refuse(field, Fault("not a text", value, accepted, "write it in quotes"))
        return value.strip()

    def choice(self, field: str, accepted: Sequence[str], default: str | None = None) -> str:
        """The text of a field that is one of `accepted`."""
        value = self.text(field, default, ", ".join(filter(None, accepted)))
        if value not in accepted:
            self.refuse(
                field,
                Fault("not a known word", value, ", ".join(filter(None, accepted)), "use one of these words"),
            )
        return value

    def number(self, field: str, default: float | None = None) -> float:
        """The finite number of a field."""
        if default is not None and field not in self.table:
            return default
        return self.as_number(field, self._given(field, "a number"))

    def optional_number(self, field: str) -> float | None:
        """The finite number of a field above zero, or None where it is not stated."""
        if field not in self.table:
            return None
        value = self.number(field)
        if value <= 0:
            self.refuse(
                field, Fault("not above zero", value, "a number above 0", "leave the field out if unknown")
            )
        return value

    def as_number(self, field: str, value: object) -> float:
        """The value as a finite float; `field` names it in the error."""
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            self.refuse(
                field, Fault("not a number", value, "a finite number", "write the number without quotes")
            )
        return float(value)

    def whole(self, field: str, least: int, default: int | None = None) -> int:
        """The whole number of a field, at least `least`."""
        if default is not None and field not in self.table:
            return default
        value = self._given(field, f"a whole number from {least}")
        if isinstance(value, bool) or not isinstance(value, int) or value < least:
            self.refuse(
                field, Fault("not a whole number in range", value, f"{least} or more", "write such a number")
            )
        return value

    def flag(self, field: str, default: bool | None = None) -> bool:
        """The true or false of a field."""
        if default is not None and field not in self.table:
            return default
        value = self._given(field, "true or false")
        if not isinstance(value, bool):
            self.refuse(
                field, Fault("neither true nor false", value, "true, false", "write it without quotes")
            )
        return value

    def texts(self, field: str, *, needed: bool = False) -> tuple[str, ...]:
        """The list of different texts of a field; empty where it is left out and not needed."""
        if not needed and field not in self.table:
            return ()
        value = self._given(field, "a list of texts")
        if not isinstance(value, list) or not all(isinstance(item, str) and item.strip() for item in value):
            self.refuse(field, Fault("not a list of texts", value, "a list of texts", 'write ["one", "two"]'))
        if len(set(value)) != len(value) or (needed and not value):
            self.refuse(field, Fault("empty or repeated", value, "each text once", "write each text once"))
        return tuple(item.strip() for item in value)

    def tables(self, field: str) -> tuple[Mapping[str, object], ...]:
        """The list of tables of a field; empty where it is left out."""
        value = self.table.get(field, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.refuse(
                field, Fault("not a list of tables", value, "a list of tables", "write [{ … }, { … }]")
            )
        return tuple(value)
