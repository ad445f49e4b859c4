"""Doubles: rows sent twice, near-doubles, and a file sent again with corrections."""

from __future__ import annotations

from datetime import datetime, timedelta

from saltmarsh.academy import MPS_PER_MPH
from saltmarsh.errors_row import RESENT_FROM
from saltmarsh.files_scale import copy_row
from saltmarsh.planter import Planter
from saltmarsh.sessions import text
from saltmarsh.sheets import Row, Sheet


def plant_doubles(p: Planter) -> None:
    """Plant doubles last, because they add rows and copy what stands."""
    _near(p)
    _exact(p)
    _overlap(p)
    _resent(p)


def _near(p: Planter) -> None:
    for sheet, row, column in p.pick(6, "weighins_D.csv|weighins_F_week?.csv", "body_mass"):
        again = copy_row(row)
        at = datetime.fromisoformat(row.cells["measured_at"]) + timedelta(seconds=int(p.rng.integers(15, 50)))
        again.cells["measured_at"] = at.isoformat()
        _insert_after(sheet, row, again)
        step = float(p.rng.choice([-0.1, 0.1]))
        p.plant(
            "duplicate_near",
            sheet,
            again,
            column,
            text(float(row.cells[column]) + step, 1),
            may_also=["correction"],
        )


def _insert_after(sheet: Sheet, row: Row, again: Row) -> None:
    at = next(i for i, r in enumerate(sheet.rows) if r is row)
    sheet.rows.insert(at + 1, again)


def _exact(p: Planter) -> None:
    places = (
        (4, "weighins_C.csv|weighins_E.txt", "body_mass"),
        (4, "gates_*.csv", "sprint_10yd"),
        (3, "handtimes_A.csv", "sprint_60yd"),
    )
    for n, patterns, measure in places:
        for sheet, row, _ in p.pick(n, patterns, measure):
            again = copy_row(row)
            _insert_after(sheet, row, again)
            p.used.add(id(again))
            p.recognised.append((sheet, again, sheet, row))


def _overlap(p: Planter) -> None:
    """Weekly exports that begin with the last clean rows of the week before."""
    for week in (3, 5):
        before, after = p.named(f"weighins_F_week{week}.csv")[0], p.named(f"weighins_F_week{week + 1}.csv")[0]
        clean = [r for r in before.rows if id(r) not in p.used][-6:]
        copies = [copy_row(r) for r in clean]
        after.rows[:0] = copies
        for row, again in zip(clean, copies, strict=True):
            p.used |= {id(row), id(again)}
            p.recognised.append((after, again, before, row))


def _resent(p: Planter) -> None:
    """One test day sent again: every row as before but five corrected ones."""
    first = p.named(RESENT_FROM)[0]
    again = Sheet(
        name=RESENT_FROM.replace(".csv", "_resent.csv"),
        headers=first.headers,
        camp=first.camp,
        values=dict(first.values),
    )
    again.rows = [copy_row(r) for r in first.rows]
    p.sheets.append(again)
    free = [
        i for i, r in enumerate(first.rows) if id(r) not in p.used and r.person and r.person.story is None
    ]
    chosen = set(int(i) for i in p.rng.choice(free, size=5, replace=False))
    for i, (old, new) in enumerate(zip(first.rows, again.rows, strict=True)):
        if i in chosen:
            right = text(
                float(old.cells["Reading"]) + float(p.rng.choice([-1, 1]) * p.rng.uniform(1.5, 4)), 1
            )
            true = float(right) * MPS_PER_MPH
            entry = p.plant(
                "correction",
                again,
                new,
                "Reading",
                right,
                proposal="replace",
                proposed_value=true,
                true_value=true,
            )
            entry.true_text = right
            entry.proposed_text = f"replaces {old.cells['Reading']} in {first.name}"
        else:
            p.recognised.append((again, new, first, old))
