"""Errors in a number: wrong unit, lost point, impossible or worn-out values, words, false starts."""

from __future__ import annotations

from saltmarsh.academy import CLOCK, KG_PER_LB, MPS_PER_KMH, MPS_PER_MPH
from saltmarsh.planter import Planter
from saltmarsh.sessions import text
from saltmarsh.sheets import Row, Sheet

SCALES_KG = "weighins_A.csv|weighins_C.csv|weighins_D.csv|weighins_E.txt|weighins_F_week?.csv"
SCALES_LB = "weighins_F_softball_week?.csv"
EXIT_OWN = "exit_speed_*.csv"
EXIT_ANY = "exit_speed_*.csv|exit_export_*.csv"


def plant_values(p: Planter) -> None:
    """Plant every kind of wrong number."""
    _unit_slips(p)
    _lost_points(p)
    _unreadable(p)
    _out_of_range(p)
    _sentinels(p)
    _jumps(p)
    _height_falls(p)
    _gates(p)
    _reps(p)
    _radar_angle(p)


def _unit_slips(p: Planter) -> None:
    for sheet, row, column in p.pick(15, SCALES_KG, "body_mass"):
        typed = text(float(row.cells[column]) / KG_PER_LB, 1)
        p.plant(
            "unit_slip", sheet, row, column, typed, proposal="value", proposed_value=float(typed) * KG_PER_LB
        )
    for sheet, row, column in p.pick(5, SCALES_LB, "body_mass"):
        typed = text(float(row.cells[column]) * KG_PER_LB, 1)
        p.plant("unit_slip", sheet, row, column, typed, proposal="value", proposed_value=float(typed))
    for patterns, measure, n in ((EXIT_ANY, "exit_speed", 10), ("throws_*.csv", "throw_speed", 5)):
        for sheet, row, column in p.pick(n, patterns, measure):
            typed = text(float(row.cells[column]) * MPS_PER_MPH / MPS_PER_KMH, 1)
            p.plant(
                "unit_slip",
                sheet,
                row,
                column,
                typed,
                proposal="value",
                proposed_value=float(typed) * MPS_PER_KMH,
            )


def _lost_points(p: Planter) -> None:
    places = (
        (4, "gates_*.csv", "sprint_10yd", 1.0),
        (3, "gates_*.csv", "sprint_60yd", 1.0),
        (6, SCALES_KG, "body_mass", 1.0),
        (4, EXIT_ANY, "exit_speed", MPS_PER_MPH),
        (2, "handtimes_A.csv", "sprint_60yd", 1.0),
    )
    for n, patterns, measure, factor in places:
        for sheet, row, column in p.pick(n, patterns, measure):
            true = float(row.cells[column]) * factor
            p.plant(
                "lost_point",
                sheet,
                row,
                column,
                row.cells[column].replace(".", ""),
                proposal="value",
                proposed_value=true,
            )


def _unreadable(p: Planter) -> None:
    for sheet, row, column in p.pick(6, SCALES_KG, "body_mass"):
        old = row.cells[column]
        p.plant(
            "unreadable_value",
            sheet,
            row,
            column,
            str(p.rng.choice([old[0] + "?" + old[2:], f"{old}.1", f"ca {old}"])),
        )
    for sheet, row, column in p.pick(3, EXIT_OWN, "exit_speed"):
        p.plant("unreadable_value", sheet, row, column, "E03")
    for sheet, row, column in p.pick(3, "strength_*.xlsx", "trap_bar_deadlift"):
        p.plant("unreadable_value", sheet, row, column, "failed twice")


def _out_of_range(p: Planter) -> None:
    for sheet, row, column in p.pick(4, EXIT_OWN, "exit_speed"):
        p.plant("out_of_range", sheet, row, column, text(p.rng.uniform(14.2, 17.9), 1), true_value=None)
    for sheet, row, column in p.pick(3, "jumps_[ABCDF].csv", "countermovement_jump"):
        p.plant("out_of_range", sheet, row, column, text(p.rng.uniform(104, 118), 1))
    for sheet, row, column in p.pick(3, "sizes_*.csv", "standing_height"):
        p.plant("out_of_range", sheet, row, column, text(p.rng.uniform(100, 112), 1))


def _sentinels(p: Planter) -> None:
    places = (
        (5, EXIT_ANY, "exit_speed", "0.0"),
        (3, EXIT_OWN, "exit_speed", "120.0"),
        (3, "throws_*.csv", "throw_speed", "0.0"),
        (4, "gates_*.csv", "sprint_60yd", "99.9"),
    )
    for n, patterns, measure, typed in places:
        for sheet, row, column in p.pick(n, patterns, measure):
            p.plant("sentinel", sheet, row, column, typed, may_also=["out_of_range"])


def _jumps(p: Planter) -> None:
    for sheet, row, column in p.pick(9, SCALES_KG, "body_mass"):
        step = float(p.rng.choice([-1, 1]) * p.rng.uniform(6, 9))
        p.plant("impossible_jump", sheet, row, column, text(float(row.cells[column]) + step, 1))
    for sheet, row, column in p.pick(4, "sizes_*.csv", "standing_height", history=20):
        p.plant("impossible_jump", sheet, row, column, text(float(row.cells[column]) + 10, 1))


def _height_falls(p: Planter) -> None:
    for sheet, row, _ in p.pick(5, "sizes_*.csv", "standing_height", history=20):
        drop = float(p.rng.uniform(2.2, 3.2))
        for column in ("Height 1", "Height 2", "Height 3"):
            p.plant("height_falls", sheet, row, column, text(float(row.cells[column]) - drop, 1))


def _gates(p: Planter) -> None:
    def fast(_: Sheet, row: Row, column: str) -> bool:
        return float(row.cells["Split 60"]) < 6.93

    for sheet, row, column in p.pick(3, "gates_*.csv", "sprint_30yd", fast, history=0):
        late = float(row.cells["Split 60"]) + float(p.rng.uniform(0.01, 0.05))
        p.plant("split_order", sheet, row, column, text(late, 2), may_also=["impossible_jump"])
    for sheet, row, column in p.pick(3, "gates_*.csv", "sprint_30yd"):
        early = float(row.cells["Split 10"]) - 0.02
        p.plant("split_order", sheet, row, column, text(early, 2), may_also=["out_of_range", "false_start"])
    for sheet, row, _ in p.pick(6, "gates_*.csv", "sprint_10yd"):
        gone = float(row.cells["Split 10"]) - float(p.rng.uniform(1.05, 1.30))
        for column in ("Split 10", "Split 30", "Split 60"):
            rules = ["out_of_range", "impossible_jump"]
            p.plant(
                "false_start", sheet, row, column, text(float(row.cells[column]) - gone, 2), may_also=rules
            )


def _reps(p: Planter) -> None:
    for measure, n in (("trap_bar_deadlift", 5), ("bench_press", 3)):
        for sheet, row, column in p.pick(n, "strength_*.xlsx", measure, history=0):
            one_rep = p.number(sheet, row, column)
            reps = int(p.rng.choice([8, 10, 12]))
            if one_rep is None:
                raise ValueError("a strength row without a number")
            row.cells[column] = text(
                round(one_rep / sheet.values[column][1] / (1 + 0.9 * reps / 30) * 2) / 2, 1
            )
            p.plant("reps_too_many", sheet, row, column, str(reps), cell="Reps", true_value=one_rep)


def _radar_angle(p: Planter) -> None:
    for measure, n in (("pitch_speed", 5), ("windmill_pitch_speed", 3)):
        for sheet, row, column in p.pick(n, "pitches_F.csv", measure, history=0, spread=False):
            angle = int(p.rng.integers(14, 24))
            true = p.number(sheet, row, column)
            slower = float(row.cells[column]) * (
                1 - angle * angle / 6565
            )  # cosine of a small angle in degrees
            row.cells[column] = text(slower, 1)
            p.plant("radar_angle", sheet, row, column, str(angle), cell="radar_angle", true_value=true)


def plant_brackwater(p: Planter) -> None:
    """The three slips of one story athlete: 168 lb, a throw in km/h, a split without its point."""
    me = p.person("Oluwaseun Brackwater")
    weigh = next((s, r) for s in p.named("weighins_F_week6.csv") for r in s.rows if r.person is me)
    weigh[1].cells["value"] = "76.2"
    p.plant(
        "unit_slip",
        *weigh,
        "value",
        "168",
        proposal="value",
        proposed_value=168 * KG_PER_LB,
        true_value=168 * KG_PER_LB,
    )
    last = max(
        r.on for s in p.named("throws_F_*.csv") for r in s.rows if r.person is me and r.on and r.on <= CLOCK
    )
    sheet, row = next(
        (s, r) for s in p.named("throws_F_*.csv") for r in s.rows if r.person is me and r.on == last
    )
    row.cells["T3"] = "82.0"
    kmh = 132 * MPS_PER_KMH
    p.plant("unit_slip", sheet, row, "T3", "132", proposal="value", proposed_value=kmh, true_value=kmh)
    sheet, row = next(
        (s, r) for s in p.named("gates_F_*.csv") for r in s.rows if r.person is me and r.on == last
    )
    row.cells["Split 10"] = "1.64"
    p.plant("lost_point", sheet, row, "Split 10", "164", proposal="value", proposed_value=1.64)
