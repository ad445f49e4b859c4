"""A camp record written down by hand: 24 athletes, one of them gone after three weeks, and the camp before."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.ingest.program import Program
from latewood.pipeline.pages.camp.record import (
    BridgeRow,
    CampRecord,
    CampRow,
    ChangeRow,
    LinkRow,
    StayRow,
    WayRow,
)
from latewood.pipeline.stats.change.results import CohortGain

MPH = 0.44704  # m/s, exact
TEE = "delivery=tee; bat=metal"
HAND, GATE = "timing=hand", "timing=electronic"
BEFORE = CampRow(camp_id="A", label="Heath 31", starts_on=date(2031, 6, 1), ends_on=date(2031, 8, 10))
CAMP = CampRow(camp_id="B", label="Heath 32", starts_on=date(2032, 6, 1), ends_on=date(2032, 8, 10))
POSITIONS = ("RHP", "SS", "OF", "C")


def stay(number: int) -> StayRow:
    gone = number == 0
    return StayRow(
        stay_id=f"T{number}@B", athlete_id=f"T{number}", arrived_on=CAMP.starts_on,
        left_on=CAMP.starts_on + timedelta(days=21) if gone else CAMP.ends_on, planned_until=CAMP.ends_on,
        left_early=gone, positions=POSITIONS[min(3, number // 8)] if number < 21 else "C/1B",
        sex="female" if number % 3 == 0 else "male", birth_date=date(2016, 1, 1), gained=2.0,
    )  # fmt: skip


GAIN = CohortGain(
    camp_id="B", spread=None, as_measured=None, as_measured_low=None, as_measured_high=None,
    measure="exit_speed", line=TEE, n_enrolled=24, n_measured=24, n_with_exit=22, n_left_early=1, weeks=10.0,
    gain=1.2341 * MPH, low=0.51 * MPH, high=1.97 * MPH, shrunk_gain=1.06 * MPH, shrunk_low=0.44 * MPH,
    shrunk_high=1.68 * MPH, raw_gain=1.6 * MPH, raw_low=1.0 * MPH, raw_high=2.2 * MPH,
    camps_differ=False, verdict="estimated", reason="", level=0.95,
    method="mixed model",
)  # fmt: skip
SMALL = replace(
    GAIN, measure="pop_time", line="", n_measured=4, n_with_exit=4, gain=None, low=None, high=None, shrunk_gain=None,
    shrunk_low=None, shrunk_high=None, weeks=None, raw_gain=-0.1, raw_low=None, raw_high=None, camps_differ=None,
    verdict="refused",
    reason="fewer than 8 athletes: shown as individuals only",
)  # fmt: skip
LINK = LinkRow(
    measure="exit_speed", line=TEE, per_kg=0.12, low=0.02, high=0.22, level=0.95, n_athletes=102,
    verdict="estimated", reason="",
)  # fmt: skip


def way(camp: str, own_line: str, n: int = 20, measure: str = "sprint_60yd", line: str = "") -> WayRow:
    return WayRow(camp_id=camp, measure=measure, own_line=own_line, line=line or own_line, n=n)


BRIDGE = BridgeRow(measure="sprint_60yd", from_line=HAND, to_line=GATE, shift=0.24, shift_se=0.08, n_pairs=18)
CHANGES = tuple(
    ChangeRow(
        stay_id=f"T{n}@B", measure="exit_speed", line=TEE, change=(0.1 * n + 0.01) * MPH, weeks=10.0 if n else 3.0,
        verdict="clear gain" if n > 20 else "not clear yet" if n else "too few sessions",
    )
    for n in range(24)
)  # fmt: skip
SPRINT = replace(GAIN, measure="sprint_60yd", line=GATE, gain=-0.08, low=-0.13, high=-0.03,
    shrunk_gain=-0.07, shrunk_low=-0.12, shrunk_high=-0.02, raw_gain=-0.1)  # fmt: skip


def camp_record(**changed: Any) -> CampRecord:
    catalogue = load_catalogue()
    made = CampRecord(
        program=Program(name="Heath", clock=date(2032, 9, 1)), catalogue=catalogue, build_id="0123456789abcdef",
        catalogue_digest=catalogue.digest, code_version="0.1.0", program_name="Heath", invented=True, camp=CAMP,
        camps=(BEFORE, CAMP), stays=tuple(stay(n) for n in range(24)), gains=(GAIN, SPRINT, SMALL),
        changes=CHANGES, ways=(way("A", GATE), way("B", GATE)), bridges=(), links={("exit_speed", TEE): LINK},
        labels={
            ("exit_speed", TEE): "tee, metal bat", ("sprint_60yd", HAND): "hand timing",
            ("sprint_60yd", GATE): "electronic timing",
        },
        errors={("exit_speed", TEE): 0.5, ("sprint_60yd", GATE): 0.07},
    )  # fmt: skip
    return replace(made, **changed)
