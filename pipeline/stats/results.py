"""What the statistics return. Each class is also one table of the warehouse, column for column.

All values are in the measure's canonical unit, mass in kg, time in weeks, dates are local to the camp.
`line` names readings that may stand in one line: the measure's must-match conditions, spelled out.
A number that cannot be given is None, and `reason` says why in words without units.
"""

from __future__ import annotations

from latewood.pipeline.stats.change.results import CampPair as CampPair
from latewood.pipeline.stats.change.results import CampSpread as CampSpread
from latewood.pipeline.stats.change.results import CohortGain as CohortGain
from latewood.pipeline.stats.change.results import MeasurementError as MeasurementError
from latewood.pipeline.stats.change.results import NotComputed as NotComputed
from latewood.pipeline.stats.change.results import RetestAdvice as RetestAdvice
from latewood.pipeline.stats.change.results import Trend as Trend
from latewood.pipeline.stats.checks.results import FitCheck as FitCheck
from latewood.pipeline.stats.growth.results import GrowthShare as GrowthShare
from latewood.pipeline.stats.growth.results import GrowthStage as GrowthStage
from latewood.pipeline.stats.links.results import AccountRow as AccountRow
from latewood.pipeline.stats.links.results import AthleteLink as AthleteLink
from latewood.pipeline.stats.links.results import LinkSpread as LinkSpread
from latewood.pipeline.stats.links.results import MassLink as MassLink
from latewood.pipeline.stats.links.results import MassOrStrength as MassOrStrength
from latewood.pipeline.stats.links.results import RelativeStrength as RelativeStrength
from latewood.pipeline.stats.links.results import SizeExponent as SizeExponent
from latewood.pipeline.stats.links.results import StaggeredLink as StaggeredLink
from latewood.pipeline.stats.links.results import StrengthLink as StrengthLink
from latewood.pipeline.stats.movement.results import OrderChange as OrderChange
from latewood.pipeline.stats.movement.results import OrderRepeatability as OrderRepeatability
from latewood.pipeline.stats.movement.results import PeakOrder as PeakOrder
from latewood.pipeline.stats.peers.results import PeerNeighbour as PeerNeighbour
from latewood.pipeline.stats.peers.results import PeerStage as PeerStage
from latewood.pipeline.stats.peers.results import PeerStanding as PeerStanding
from latewood.pipeline.stats.plans.results import GuardRetest as GuardRetest
from latewood.pipeline.stats.plans.results import MassTrend as MassTrend
from latewood.pipeline.stats.plans.results import PlanAdvice as PlanAdvice
from latewood.pipeline.stats.plans.results import PlanGuard as PlanGuard
from latewood.pipeline.stats.plans.results import PlanPower as PlanPower
from latewood.pipeline.stats.plans.results import PlanReview as PlanReview
from latewood.pipeline.stats.plans.results import PlanSince as PlanSince
from latewood.pipeline.stats.plans.results import PlanState as PlanState
from latewood.pipeline.stats.plans.results import WeighinUse as WeighinUse
from latewood.pipeline.stats.projection.results import PastProjection as PastProjection
from latewood.pipeline.stats.projection.results import Projection as Projection
from latewood.pipeline.stats.projection.results import ProjectionScore as ProjectionScore
