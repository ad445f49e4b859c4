"""Why a number is not given, in a coach's words; the exact reason of the warehouse stands one tap below."""

from __future__ import annotations

import re
from typing import Final

# What the exact reason holds -> the plain one, the first that fits.
PLAIN: Final = (
    (r"kept too close to each athlete's own steady rate", "Mass changed too evenly to tell."),
    (r"the (interval|range of the difference) (spans|holds) zero|may be zero", "It could be nothing."),
    (r"strength is not measured well enough", "Strength was not tested often enough."),
    (r"time in the program is left out", "Time is not taken out, so this is not the mass."),
    (r"(\d+) athletes with .*, (\d+) are needed", r"Only \1 athletes; \2 are needed."),
    (r"(\d+) (?:peers|tests|of \d+ camps)\b.*, (\d+) are needed", r"Only \1; \2 are needed."),
    (r"one session", "Only one test day so far."),
    (r"fewer than (\d+) sessions", r"Fewer than \1 test days."),
    (r"fewer than (\d+) stays", r"Fewer than \1 stays were measured this way."),
    (r"interval is cut", "Its range ends where the measure ends."),
    (r"after the athlete's exit", "They have left camp by then."),
    (r"beyond the longest stay", "Nobody was followed for so long."),
    (r"fewer than (\d+) (?:effective )?peers", r"Fewer than \1 athletes like them."),
    (r"edge of the athletes measured", "Nearly nobody here is built like them."),
    (r"no (?:standing height|body mass)", "Height or mass was not taken near the test."),
    (r"growth equations do not agree", "The growth stage is not clear."),
)


def plain_reason(reason: str) -> str:
    """The reason in a short sentence; as it is where nothing plainer is known.

    >>> plain_reason("14 athletes with three sessions and a body mass, 15 are needed")
    'Only 14 athletes; 15 are needed.'
    >>> plain_reason("the interval spans zero"), plain_reason("")
    ('It could be nothing.', '')
    """
    for pattern, plain in PLAIN:
        if hit := re.search(pattern, reason):
            return hit.expand(plain)
    return reason
