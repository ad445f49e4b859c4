"""Errors in whose, when, what and how often: names, dates, units, doubles, swaps, copied cells, sensors."""

from __future__ import annotations

from datetime import date, timedelta

from saltmarsh.academy import CAMP, CLOCK, KG_PER_LB, MPS_PER_KMH, MPS_PER_MPH
from saltmarsh.errors_value import EXIT_OWN, SCALES_KG
from saltmarsh.planter import Planter
from saltmarsh.sessions import text
from saltmarsh.sheets import Row, Sheet

RESENT_FROM = "exit_export_D_2032-07-05.csv"
WHOLE_FILES = ("station2_D_part2.csv", "throws_C_2032-04-23.csv", "strength_E_2033-01-22.xlsx")
SWAPS = (
    ("Rowan Thistlewick", "Rowan T. Thistlewick", "weighins_F_week7.csv", ("61.0", "84.2")),
    ("Corin Pebblewade", "Anselm Pebblewade", "weighins_D.csv", None),
    ("Tamsin Osierholt", "Jory Osierholt", "weighins_A.csv", None),
)


def plant_rows(p: Planter) -> None:
    """Plant every kind of error that is not in a single number."""
    p.closed |= {*WHOLE_FILES, RESENT_FROM}
    _swaps(p)
    _same_name(p)
    _unknown_athletes(p)
    _unknown_words(p)
    _dates(p)
    _copy_down(p)
    _sensors(p)


def _swaps(p: Planter) -> None:
    for light, heavy, name, exact in SWAPS:
        sheet = p.named(name)[0]
        days = {n: {r.on: r for r in sheet.rows if r.person is p.person(n)} for n in (light, heavy)}
        on = sorted(set(days[light]) & set(days[heavy]))[-2]
        one, other = days[light][on], days[heavy][on]
        if exact:
            one.cells["value"], other.cells["value"] = exact
        typed = other.cells["value"], one.cells["value"]
        for row, wrong, whose in zip((one, other), typed, (heavy, light), strict=True):
            owner = p.person(whose).athlete_id
            p.plant("swapped_pair", sheet, row, "value", wrong, proposal="athlete", proposed_text=owner)


def _same_name(p: Planter) -> None:
    """'Rowan Thistlewick' may be either of two: every row under that spelling is in doubt."""
    other = p.person("Rowan T. Thistlewick")
    for sheet in p.named("sizes_F.csv"):
        mine = [r for r in sheet.rows if r.person is other]
        mine[-1].cells["Full name"] = "Rowan Thistlewick"
        for row in [r for r in sheet.rows if r.cells["Full name"] == "Rowan Thistlewick"]:
            p.plant_row("same_name", sheet, row, "Full name", "Rowan Thistlewick", proposal="none")
            for entry in p.planted[-len([f for f in sheet.values if row.cells[f]]) :]:
                entry.true_text = row.person.athlete_id if row.person else ""


def _unknown_athletes(p: Planter) -> None:
    def low_number(_: Sheet, row: Row, __: str) -> bool:
        return row.person is not None and row.person.athlete_id[3] == "0"

    cases = p.pick(5, SCALES_KG, "body_mass", low_number) + p.pick(3, EXIT_OWN, "exit_speed", low_number)
    for sheet, row, _ in cases:
        full = row.person.athlete_id if row.person else ""
        p.plant_row(
            "unknown_athlete",
            sheet,
            row,
            "athlete",
            "SL-" + full[3:].lstrip("0"),
            proposal="athlete",
            proposed_text=full,
        )
    for sheet, row, _ in p.pick(4, SCALES_KG, "body_mass"):
        p.plant_row("unknown_athlete", sheet, row, "athlete", f"SL-{int(p.rng.integers(300, 990))}")
    named = (
        ("exit_export_C_*.csv", "exit_speed", "Player", 4),
        ("sizes_[BDE].csv", "standing_height", "Full name", 3),
    )
    for pattern, measure, header, n in named:
        for sheet, row, _ in p.pick(
            n, pattern, measure, lambda s, r, f, h=header: bool(r.person and r.cells[h] == r.person.name)
        ):
            given, surname = row.cells[header].split()
            at = int(p.rng.integers(2, len(surname) - 1))
            typed = f"{given} {surname[:at]}{surname[at + 1 :]}"
            p.plant_row(
                "unknown_athlete",
                sheet,
                row,
                header,
                typed,
                proposal="athlete",
                proposed_text=row.person.athlete_id if row.person else "",
            )


def _unknown_words(p: Planter) -> None:
    for sheet, row, _ in p.pick(4, "exit_export_D_*.csv", "exit_speed", history=0):
        p.plant_row("unknown_measure", sheet, row, "Metric", "Exit velo fungo")
    for sheet, row, _ in p.pick(2, "strength_[ADF].xlsx", "bench_press", history=0):
        p.plant_row("unknown_measure", sheet, row, "Lift", "Landmine press")
    for patterns, measure, cell, typed, n in (
        (EXIT_OWN, "exit_speed", "unit", "mhp", 4),
        (SCALES_KG, "body_mass", "unit", "stone", 4),
        ("pitches_[ABCDE].csv", "pitch_speed", "unit", "knots", 2),
    ):
        for sheet, row, _ in p.pick(n, patterns, measure):
            p.plant_row("unknown_unit", sheet, row, cell, typed)


def _dates(p: Planter) -> None:
    for sheet, row, _ in p.pick(5, SCALES_KG, "body_mass"):
        wrong = str(p.rng.choice([f"{row.on:%Y}-13-{row.on:%d}", f"{row.on:%Y-%m}-3x", f"{row.on:%Y}-02-31"]))
        _plant_date(p, "unreadable_date", sheet, row, wrong)
    _ambiguous(p)
    for sheet, row, _ in p.pick(4, f"{SCALES_KG}|{EXIT_OWN}", "body_mass"):
        _plant_date(p, "before_birth", sheet, row, f"20{int(p.rng.integers(0, 5)):02d}-{row.on:%m-%d}")
    for sheet, row, _ in p.pick(6, SCALES_KG, "body_mass"):
        _plant_date(p, "in_future", sheet, row, f"{int(p.rng.integers(2034, 2044))}-{row.on:%m-%d}")
    for sheet, row, _ in p.pick(3, EXIT_OWN, "exit_speed", _one_camp):
        _plant_date(p, "outside_stay", sheet, row, f"{row.on.year - 1 if row.on else ''}-{row.on:%m-%d}")
    for sheet, row, _ in p.pick(5, SCALES_KG, "body_mass", _one_camp):
        wrong = CAMP[sheet.camp].starts_on - timedelta(days=int(p.rng.integers(20, 60)))
        _plant_date(p, "outside_stay", sheet, row, wrong.isoformat())


def _one_camp(_: Sheet, row: Row, __: str) -> bool:
    return row.person is not None and len(row.person.stays) == 1


def _plant_date(p: Planter, rule: str, sheet: Sheet, row: Row, wrong: str, **more: object) -> None:
    p.plant_row(rule, sheet, row, "measured_on", wrong, **more)


def _ambiguous(p: Planter) -> None:
    """Dates with strokes in files that write ISO: month and day may stand either way round."""

    def readings(row: Row) -> tuple[bool, bool]:
        on = row.on or CLOCK
        turned = date(on.year, on.day, on.month) if on.day <= 12 and on.day != on.month else None
        return turned is not None, bool(
            turned and row.person and p.inside_stay(row.person, turned) and turned <= CLOCK
        )

    def one(_: Sheet, row: Row, __: str) -> bool:
        return readings(row) == (True, False)

    def both(_: Sheet, row: Row, __: str) -> bool:
        return readings(row) == (True, True)

    for sheet, row, _ in p.pick(4, SCALES_KG, "body_mass", one):
        _plant_date(
            p,
            "date_ambiguous",
            sheet,
            row,
            f"{row.on:%m/%d/%Y}",
            proposal="date",
            proposed_text=f"{row.on:%Y-%m-%d}",
        )
    for sheet, row, _ in p.pick(3, "weighins_[AD].csv", "body_mass", both):
        _plant_date(p, "date_ambiguous", sheet, row, f"{row.on:%m/%d/%Y}")


def _copy_down(p: Planter) -> None:
    for name in ("weighins_A.csv", "weighins_D.csv", "weighins_E.txt", "weighins_F_week3.csv"):
        sheet = p.named(name)[0]
        start = _free_run(p, sheet)
        top = sheet.rows[start].cells["value"]
        for row in sheet.rows[start : start + 6]:  # the first is the true one, but nobody can tell
            p.plant("copy_down", sheet, row, "value", top, may_also=["impossible_jump"])


def _free_run(p: Planter, sheet: Sheet) -> int:
    for start in p.rng.permutation(len(sheet.rows) - 6):
        run = sheet.rows[start : start + 6]
        fresh = all(r.person and r.person.story is None and id(r) not in p.used for r in run)
        values = [float(r.cells["value"]) for r in run[1:]] if fresh else []
        if (
            fresh
            and len({r.on for r in run}) == 1
            and min(abs(v - float(run[0].cells["value"])) for v in values) > 2.5
        ):
            return int(start)
    raise ValueError(f"no run of six free rows in {sheet.name}")


def _sensors(p: Planter) -> None:
    _reverse(p, "Priya Vanamarsh", date(2033, 7, 4), ("Torso",))
    hand_lost = [
        r
        for s in p.named("movement_F_2033-07-25.csv")
        for r in s.rows
        if r.person is p.person("Priya Vanamarsh")
    ]
    for row in hand_lost:
        row.cells["Hand peak"] = row.cells["Hand ms"] = ""
    others = [
        r
        for s in p.named("movement_F_2033-07-25.csv")
        for r in s.rows
        if r.person and r.person.story is None and r.cells["Action"] == "swing"
    ]
    for name, segment in ((others[0].person, "Pelvis"), (others[-1].person, "Lead arm")):
        _reverse(p, name.name if name else "", date(2033, 7, 25), (segment,))
    for sheet in p.named("movement_F_*.csv"):
        for on in sorted({r.on for r in sheet.rows if r.on}):
            _reverse(p, "Bogdan Reedwhistle", on, ("Pelvis", "Torso", "Lead arm", "Bat"))


def _reverse(p: Planter, name: str, on: date, segments: tuple[str, ...]) -> None:
    sheet = p.named(f"movement_F_{on.isoformat()}.csv")[0]
    everything = len(segments) > 1
    for row in [r for r in sheet.rows if r.person is p.person(name)]:
        if "Torso" in segments:
            row.cells["Torso other peak"] = row.cells["Torso other peak"].removeprefix("-")
        for segment in segments:
            column = f"{segment} peak"
            true = float(row.cells[column])
            p.plant(
                "all_reversed" if everything else "reversed_sensor",
                sheet,
                row,
                column,
                text(-true, 0),
                proposal="none" if everything else "value",
                proposed_value=None if everything else true,
                proposed_text="all channels reversed: ask for handedness"
                if everything
                else "sensor reversed",
            )


def plant_whole_files(p: Planter) -> None:
    """Three files in another unit than their mapping says."""
    steps = {
        "station2_D_part2.csv": (1.0, "lb", "kg", KG_PER_LB),
        "throws_C_2032-04-23.csv": (MPS_PER_MPH / MPS_PER_KMH, "km/h", "mph", MPS_PER_KMH),
        "strength_E_2033-01-22.xlsx": (1 / KG_PER_LB, "lb", "kg", KG_PER_LB),
    }
    for name, (times, real, stated, factor) in steps.items():
        sheet = p.named(name)[0]
        for row in sheet.rows:
            for column in sheet.values:
                row.cells[column] = text(float(row.cells[column]) * times, 1)
        cells = sum(bool(r.cells[c]) for r in sheet.rows for c in sheet.values)
        p.whole_files.append({
            "file": name,
            "rule": "whole_file_unit",
            "fields": sorted(sheet.values),
            "first_line": sheet.first_line,
            "last_line": sheet.first_line + len(sheet.rows) - 1,
            "cells": cells,
            "real_unit": real,
            "stated_unit": stated,
            "to_canonical": factor,
        })
