"""Where errors are planted and how each is written down for the answer key."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date
from fnmatch import fnmatch

import numpy as np

from saltmarsh.academy import CAMP, CM_PER_IN, KG_PER_LB, MPS_PER_MPH
from saltmarsh.people import Person
from saltmarsh.sheets import Row, Sheet

WORDS = {"Exit velo tee": "exit_speed", "Trap bar": "trap_bar_deadlift", "Bench": "bench_press"}
FACTORS = {"mph": MPS_PER_MPH, "kg": 1.0, "lb": KG_PER_LB, "s": 1.0, "in": CM_PER_IN}


@dataclass(slots=True, kw_only=True, eq=False)
class Planted:
    """One planted error in one value cell. Values are canonical; `cell` is the header of the text that is wrong."""

    rule: str
    sheet: Sheet
    row: Row
    field: str
    cell: str
    given: str
    proposal: str = "none"
    proposed_value: float | None = None
    proposed_text: str | None = None
    true_value: float | None
    true_text: str
    may_also: tuple[str, ...] = ()


@dataclass(slots=True, kw_only=True)
class Planter:
    """All sheets, the errors so far, and which cells are already used."""

    sheets: list[Sheet]
    people: list[Person]
    rng: np.random.Generator
    planted: list[Planted] = field(default_factory=list)
    used: set[int] = field(default_factory=set)
    closed: set[str] = field(default_factory=set)
    recognised: list[tuple[Sheet, Row, Sheet, Row]] = field(default_factory=list)
    whole_files: list[dict[str, object]] = field(default_factory=list)

    def named(self, pattern: str) -> list[Sheet]:
        """The sheets whose names match."""
        return [s for s in self.sheets if fnmatch(s.name, pattern)]

    def person(self, name: str) -> Person:
        """The athlete of that name."""
        return next(p for p in self.people if p.name == name)

    def pick(
        self,
        n: int,
        patterns: str,
        measure: str,
        accept: Callable[[Sheet, Row, str], bool] = lambda s, r, f: True,
        *,
        history: int = 7,
        spread: bool = True,
    ) -> list[tuple[Sheet, Row, str]]:
        """Return n free cells of a measure, of athletes without a story and with `history` days behind them."""
        result = [
            (s, r, f)
            for pattern in patterns.split("|")
            for s in self.named(pattern)
            if s.name not in self.closed
            for r in s.rows
            if self._usable(r, s, history)
            for f in s.values
            if r.cells[f] and self.measure(s, r, f) == measure and accept(s, r, f)
        ]
        chosen: list[tuple[Sheet, Row, str]] = []
        observed: set[tuple[str, str]] = set()
        for i in self.rng.permutation(len(result)):
            sheet, row, _ = result[i]
            key = (row.person.athlete_id if row.person else "", sheet.name if spread else str(row.on))
            if key not in observed and id(row) not in self.used and len(chosen) < n:
                observed.add(key)
                self.used.add(id(row))
                chosen.append(result[i])
        if len(chosen) < n:
            raise ValueError(f"only {len(chosen)} of {n} cells for {measure} in {patterns}")
        return chosen

    def _usable(self, row: Row, sheet: Sheet, history: int) -> bool:
        if row.person is None or row.person.story is not None or row.on is None or id(row) in self.used:
            return False
        stay = next(s for s in row.person.stays if s.camp.key == sheet.camp)
        return (row.on - stay.arrived_on).days >= history

    @staticmethod
    def measure(sheet: Sheet, row: Row, column: str) -> str:
        """The catalogue key of a value cell."""
        word = sheet.measure(row, column)
        return WORDS.get(word, word)

    def factor(self, sheet: Sheet, row: Row, column: str) -> float:
        """From the text's unit to the canonical one."""
        unit = next((row.cells[h] for h in ("unit", "Unit") if h in sheet.headers), "")
        return FACTORS[unit] if unit in FACTORS else sheet.values[column][1]

    def number(self, sheet: Sheet, row: Row, column: str) -> float | None:
        """The canonical value that the cell states now, estimated 1RM for a set; None for words."""
        try:
            value = float(row.cells[column]) * self.factor(sheet, row, column)
        except ValueError:
            return None
        reps = int(row.cells["Reps"]) if "Reps" in sheet.headers else 1
        return value if reps == 1 else value * (1 + reps / 30)

    def plant(
        self,
        rule: str,
        sheet: Sheet,
        row: Row,
        column: str,
        given: str,
        *,
        cell: str = "",
        proposal: str = "none",
        proposed_value: float | None = None,
        proposed_text: str | None = None,
        may_also: Iterable[str] = (),
        true_value: float | None = None,
    ) -> Planted:
        """Replace the text of a cell by a wrong one and write down what stood there."""
        cell = cell or column
        truth = self.number(sheet, row, column) if true_value is None else true_value
        entry = Planted(
            rule=rule,
            sheet=sheet,
            row=row,
            field=column,
            cell=cell,
            given=given,
            proposal=proposal,
            proposed_value=proposed_value,
            proposed_text=proposed_text,
            true_value=truth,
            true_text=row.truth.get(cell, row.cells[cell]),
            may_also=tuple(may_also),
        )
        row.truth.setdefault(cell, row.cells[cell])
        row.cells[cell] = given
        self.used.add(id(row))
        self.planted.append(entry)
        return entry

    def plant_row(self, rule: str, sheet: Sheet, row: Row, cell: str, given: str, **more: object) -> None:
        """Replace a name, date or other text that stands for every value of the row."""
        columns = [f for f in sheet.values if row.cells[f]]
        old = row.cells[cell]
        for column in columns:
            row.cells[cell] = old
            row.truth.pop(cell, None)
            self.plant(rule, sheet, row, column, given, cell=cell, **more)  # type: ignore[arg-type]

    def inside_stay(self, person: Person, on: date) -> bool:
        """Whether the athlete was at a camp on that day."""
        return any(s.arrived_on <= on <= (s.exit_on or s.planned_until) for s in person.stays)


def in_camp(key: str, on: date) -> bool:
    """Whether the day lies inside the camp."""
    return CAMP[key].starts_on <= on <= CAMP[key].ends_on
