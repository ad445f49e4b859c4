"""The weekly decision table of a weight plan: rows in order, medical referral first, the first that holds is taken.

Rows and limits: common practice, no source. Rows 5 and 6 need splits that do not suffer, so that an athlete who pays
with speed is never told to go on, and a target that is not unlikely in time, so that "keep" never stands beside a
small chance; a plan at its target is neither on nor off plan.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from latewood.pipeline.catalogue.chances import is_unlikely
from latewood.pipeline.stats.plans import rules
from latewood.pipeline.stats.plans.guards import OUTPUT, PER_KG, SPLIT, STRENGTH
from latewood.pipeline.stats.plans.results import PlanGuard

SURE: Final = 0.8
PERHAPS: Final = 0.5
GROWN_CM: Final = 1.0
BARRED, ABOVE, UNLIKELY, OPEN = "barred", "above", "unlikely", "open"
OFF: Final = frozenset({rules.LOSING, rules.STALLED, rules.BEHIND, rules.OUT_OF_REACH, rules.PAST})


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What a row of the table may ask. Chances are None where there is no test to tell from."""

    status: str  # of plan_rules
    referred: bool = False  # a person has stopped the plan and referred the athlete
    chance_refer: float = 0.0  # gains more than the referral limit
    strength_up: float | None = None
    per_kg_falls: float | None = None  # by more than 3 %
    slower: float | None = None  # the worst of the splits, by more than its smallest relevant amount
    output_up: float | None = None  # the best of the outputs
    output_down: float | None = None  # the worst of the outputs
    attendance_poor: bool = False  # intake or attendance, as a person has noted
    height_change: float | None = None  # cm
    above_target: bool = False  # the trend has left the target behind
    chance_target: float | None = None  # to reach the target by its date

    @property
    def in_time(self) -> bool:
        """The target is not unlikely by its date; so too where its chance is not known."""
        return self.chance_target is None or not is_unlikely(self.chance_target)

    @property
    def on_rate(self) -> bool:
        """On plan, target not reached."""
        return self.status == rules.ON_PLAN

    @property
    def off_plan(self) -> bool:
        """An alarm, a target out of reach or a date that has passed."""
        return self.status in OFF

    @property
    def is_stronger(self) -> bool:
        """Strength is up."""
        return _sure(self.strength_up)

    @property
    def output_is_up(self) -> bool:
        """An output is up and none is clearly down."""
        return _sure(self.output_up) and not _sure(self.output_down)

    @property
    def guards_fine(self) -> bool:
        """No split is more likely slower than not."""
        return self.slower is None or self.slower < PERHAPS


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceRow:
    """One row of the table."""

    number: str
    words: str
    offered: str
    holds: Callable[[Evidence], bool]


def _sure(chance: float | None) -> bool:
    # Compared in whole per cent, as it is shown: a screen that says 80 % never contradicts a limit of 80 %.
    return chance is not None and round(chance, 2) >= SURE


def _falls(e: Evidence) -> bool:
    return e.per_kg_falls is not None and e.per_kg_falls >= PERHAPS


TABLE: Final = (
    AdviceRow(
        number="0", words="This is not a training question",
        offered="Stop the plan and refer to a doctor or dietitian; keep the mass off the screens.",
        holds=lambda e: e.referred or (e.status == rules.REFER and e.chance_refer < SURE),
    ),
    AdviceRow(
        number="1", words="Faster than tissue is likely to be built", offered="Stop the plan and refer.",
        holds=lambda e: e.status == rules.REFER,
    ),
    AdviceRow(
        number=BARRED, words="No plan allowed", offered="End the plan and follow growth only.",
        holds=lambda e: e.status == rules.NOT_ALLOWED,
    ),
    AdviceRow(
        number="2", words="Too fast", offered="Slow the gain with the dietitian; look again in two weeks.",
        holds=lambda e: e.status == rules.TOO_FAST,
    ),
    AdviceRow(
        number="3", words="We cannot see", offered="No judgement; three to five fasted mornings a week are needed.",
        holds=lambda e: e.status == rules.TOO_FEW,
    ),
    AdviceRow(
        number="4", words="Too early to tell", offered="Keep.",
        holds=lambda e: e.status == rules.TOO_EARLY,
    ),
    AdviceRow(
        number="5", words="Working", offered="Keep.",
        holds=lambda e: (
            e.on_rate and e.in_time and e.is_stronger and e.guards_fine and e.output_is_up and not _falls(e)
        ),
    ),
    AdviceRow(
        number="6", words="Body ahead of skill", offered="Keep the plan; change the skill and power work.",
        holds=lambda e: (
            e.on_rate and e.in_time and e.is_stronger and e.guards_fine and e.output_up is not None and not _falls(e)
        ),
    ),
    AdviceRow(
        number="7", words="Mass without strength", offered="Hold the mass; raise the quality of the training.",
        holds=lambda e: e.on_rate and _falls(e),
    ),
    AdviceRow(
        number="8", words="Paying with speed", offered="Hold the mass two weeks; sprint work; test again.",
        holds=lambda e: e.on_rate and _sure(e.slower),
    ),
    AdviceRow(
        number="9", words="Perhaps slower", offered="Test the splits again before deciding.",
        holds=lambda e: e.on_rate and e.slower is not None and e.slower >= PERHAPS,
    ),
    AdviceRow(
        number="10", words="Progress without mass",
        offered="No push to gain: consider ending the plan or lowering the target.",
        holds=lambda e: e.off_plan and e.is_stronger and e.output_is_up,
    ),
    AdviceRow(
        number="11", words="Stalled", offered="Talk about food, sleep and attendance; bring in the dietitian.",
        holds=lambda e: e.off_plan and e.attendance_poor,
    ),
    AdviceRow(
        number="12", words="Target too far for its date",
        offered="Lower the target or move the date; the needed rate may not pass the ceiling.",
        holds=lambda e: e.off_plan,
    ),
    AdviceRow(
        number=ABOVE, words="Above the target",
        offered="Hold the mass, no further gain: end the plan, or write its next version.",
        holds=lambda e: e.status == rules.REACHED and e.above_target,
    ),
    AdviceRow(
        number="13", words="Done", offered="Hold the mass; turn to strength and power.",
        holds=lambda e: e.status == rules.REACHED,
    ),
    AdviceRow(
        number="14", words="Growing", offered="Work the growth share out again before judging.",
        holds=lambda e: e.height_change is not None and e.height_change >= GROWN_CM,
    ),
    AdviceRow(
        number=UNLIKELY, words="On the planned rate, but short of time",
        offered="Keep for now; prepare the talk about target or date.",
        holds=lambda e: e.on_rate and not e.in_time,
    ),
    AdviceRow(
        number=OPEN, words="On plan, the rest is not known yet",
        offered="Keep; test strength, splits and outputs.", holds=lambda _: True,
    ),
)  # fmt: skip


def first_row(evidence: Evidence) -> AdviceRow:
    """Return the first row of the table that holds; the last one always does.

    >>> first_row(Evidence(status="on plan", slower=0.66)).words
    'Perhaps slower'
    """
    return next(row for row in TABLE if row.holds(evidence))


def with_tests(plan: Evidence, guards: Sequence[PlanGuard]) -> Evidence:
    """Return the evidence of one plan with what its tests say."""
    by_role: dict[str, list[PlanGuard]] = {}
    for guard in guards:
        by_role.setdefault(guard.role, []).append(guard)
    return replace(
        plan,
        strength_up=_most(by_role, STRENGTH, "chance_better"),
        per_kg_falls=_most(by_role, PER_KG, "chance_worse"),
        slower=_most(by_role, SPLIT, "chance_worse"),
        output_up=_most(by_role, OUTPUT, "chance_better"),
        output_down=_most(by_role, OUTPUT, "chance_worse"),
    )


def _most(by_role: Mapping[str, Sequence[PlanGuard]], role: str, name: str) -> float | None:
    return max((float(getattr(guard, name)) for guard in by_role.get(role, ())), default=None)
