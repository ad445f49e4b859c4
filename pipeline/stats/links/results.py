"""What goes with added mass and added strength: links, accounts of one change, drawn starts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class MassLink:
    """Change of an output per kg of the athlete's own added mass, at equal time in the program."""

    scope: str  # "program" or a camp_id
    measure: str
    line: str
    adjustment: str  # "time" | "none" | "time and strength"
    per_kg: float | None
    standard_error: float | None
    low: float | None
    high: float | None
    between_per_kg: float | None  # across athletes; a different question, shown beside
    n_athletes: int
    n_sessions: int
    inflation: float | None  # variance inflation of mass on time within athletes
    time_form: str
    verdict: str  # estimated | may be zero | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AthleteLink:
    """One athlete's observed change beside the change that goes with their added mass."""

    athlete_id: str
    stay_id: str
    measure: str
    line: str
    observed: float | None
    observed_low: float | None
    observed_high: float | None
    mass_change: float | None
    mass_change_low: float | None
    mass_change_high: float | None
    expected: float | None
    expected_low: float | None
    expected_high: float | None
    left_over: float | None
    left_over_low: float | None
    left_over_high: float | None
    n_sessions: int
    verdict: str  # estimated | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountRow:
    """One row of the account of one athlete's change: where it began, what it is made of, where it ended."""

    athlete_id: str
    stay_id: str
    measure: str
    line: str
    position: int  # of the row in its account, from 0
    row: str  # start | time | learning | mass | strength | unexplained | end
    amount: float | None  # start + the given rows between = end, to the last bit; null: within another row
    low: float | None
    high: float | None
    bracket: str  # what the row cannot be separated from, or why it stands empty
    mass_change: float | None  # kg over the same sessions, on the row of mass
    n_sessions: int
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkSpread:
    """What goes with a kg of own added mass in the mean over camps, and how much camps differ in it, in one line."""

    measure: str
    line: str
    n_camps: int  # pooled: with a link of their own
    n_left_out: int  # whose own link is refused
    n_athletes: int  # athlete-camps: somebody who came to two counts twice
    n_shared: int  # athletes who came to more than one of the pooled camps
    mean: float | None  # per kg, over camps of the kind
    mean_low: float | None
    mean_high: float | None
    spread: float | None  # tau: SD between the camps' true values per kg
    spread_low: float | None
    spread_high: float | None
    share: float | None  # I squared, 0 to 1
    next_low: float | None  # true value per kg of one more camp of the kind
    next_high: float | None
    verdict: str  # estimated | may be zero | refused
    reason: str  # why a number is missing
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeExponent:
    """The power of body mass with which an output goes: across athletes, and within them at equal time."""

    measure: str
    line: str
    across: float | None  # per cent of the output per per cent of mass, between athletes of one sex
    across_low: float | None
    across_high: float | None
    n_across: int
    published: float  # what is published for adults, across athletes
    within: float | None  # the same, for an athlete's own added mass at equal time in the program
    within_low: float | None
    within_high: float | None
    n_athletes: int
    n_sessions: int
    inflation: float | None
    time_form: str
    verdict: str  # fits the published value | differs from the published value | refused
    reason: str  # why a number is missing
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StaggeredLink:
    """Output per kg of body mass at equal time, from plans of one camp that began on days drawn for their groups."""

    camp_id: str
    measure: str
    line: str
    per_kg: float | None
    low: float | None
    high: float | None
    standard_error: float | None
    chance: float | None  # p of no effect of the starts on output
    kg_per_week: float | None  # what a week on plan by assignment added
    chance_mass: float | None  # p of no effect of the starts on mass
    n_athletes: int
    n_sessions: int
    n_groups: int  # starts that were drawn
    smallest_group: int  # athletes with two tests and a body mass
    n_as_drawn: int  # athletes whose first plan began within a week of the day that was drawn
    verdict: str  # estimated | may be zero | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StrengthLink:
    """Change of an output per kg of the athlete's own added strength, at equal time in the program."""

    measure: str
    line: str
    strength_measure: str
    strength_line: str
    adjustment: str  # "time" | "time and mass"
    per_kg: float | None
    standard_error: float | None
    low: float | None
    high: float | None
    between_per_kg: float | None  # across athletes; a different question
    n_athletes: int
    n_sessions: int
    n_tests: int  # of strength, behind the fitted trends
    reliability: float | None  # share of the differences between fitted gains that is not test error
    inflation: float | None  # variance inflation of own strength on time (and mass) within athletes
    time_form: str
    strength_form: str
    verdict: str  # estimated | may be zero | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MassOrStrength:
    """What goes with one usual gain of mass and one of strength, both in one model, and which is more."""

    measure: str
    line: str
    mass_gain_sd: float | None  # kg, between athletes at equal time
    strength_gain_sd: float | None  # kg
    mass_share: float | None  # change of the output that goes with one SD of mass gained
    mass_low: float | None
    mass_high: float | None
    strength_share: float | None
    strength_low: float | None
    strength_high: float | None
    difference: float | None  # size of the mass share less size of the strength share
    difference_low: float | None
    difference_high: float | None
    n_athletes: int
    n_sessions: int
    verdict: str  # mass | strength | is not known | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RelativeStrength:
    """Strength for body size at both ends of a stay, by the athlete's own line through their tests."""

    athlete_id: str
    stay_id: str
    measure: str
    line: str
    first_on: date | None
    last_on: date | None
    n_tests: int
    start_strength: float | None  # kg
    end_strength: float | None
    start_mass: float | None  # kg
    end_mass: float | None
    start_relative: float | None  # kg per kg to the power of `exponent`
    end_relative: float | None
    change_percent: float | None  # of relative strength over the stay
    low: float | None
    high: float | None
    exponent: float
    verdict: str  # shown | refused
    reason: str
    level: float
    method: str
