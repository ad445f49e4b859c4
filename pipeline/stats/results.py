"""What the statistics return: every class of a room's `results.py`. Each is one table of the warehouse.

The table is made from the class (pipeline/warehouse/schema.py): the field's name, its type, `| None` where it may be
empty, and the comment beside it for the data dictionary. The build adds `build_id`.

All values are in the measure's canonical unit, mass in kg, time in weeks, dates are local to the camp.
`line` names readings that may stand in one line: the measure's must-match conditions, spelled out.
A number that cannot be given is None, and `reason` says why in words without units.
"""

from __future__ import annotations

from dataclasses import is_dataclass

from latewood.pipeline.stats.change.results import *
from latewood.pipeline.stats.checks.results import *
from latewood.pipeline.stats.growth.results import *
from latewood.pipeline.stats.links.results import *
from latewood.pipeline.stats.movement.results import *
from latewood.pipeline.stats.peers.results import *
from latewood.pipeline.stats.plans.results import *
from latewood.pipeline.stats.projection.results import *

RESULT_CLASSES: tuple[type, ...] = tuple(
    one for one in tuple(globals().values()) if isinstance(one, type) and is_dataclass(one)
)
