"""Every screen, declared once: navigation, links, pictures, the load run and the tests go through this list.

Who may open which is in pipeline/access.py, by the same keys.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class Screen:
    """One screen: its key in addresses and rights, its title, and its file beside app.py."""

    key: str
    title: str
    file: str
    query: str = ""  # in an address that shows one of its kind, such as "athlete={athlete}"
    hidden: bool = False  # not in the navigation: a link on another screen opens it

    def address(self, **known: str) -> str:
        """The address after the host; with words for its query it shows one of its kind.

        >>> BY_KEY["plan"].address(plan="P7"), BY_KEY["plan"].address()
        ('plan?plan=P7', 'plan')
        """
        return f"{self.key}?{self.query.format(**known)}" if known and self.query else self.key


SCREENS: Final = (
    Screen(key="monday", title="Monday", file="screens/monday/monday.py"),
    Screen(key="cohorts", title="Cohorts", file="screens/cohorts/cohorts.py"),
    Screen(
        key="camp_review", title="Camp review", file="screens/camp_review/camp_review.py", query="camp={camp}"
    ),
    Screen(key="athlete", title="Athlete", file="screens/athlete/athlete.py", query="athlete={athlete}"),
    Screen(key="plans", title="Weight plans", file="screens/plans/plans.py"),
    Screen(key="weighin", title="Weigh-in", file="screens/weighin/weighin.py", query="measure={measure}"),
    Screen(
        key="summaries", title="Summaries", file="screens/summaries/summaries.py", query="athlete={athlete}"
    ),
    Screen(key="data", title="Data", file="screens/data/data.py"),
    Screen(key="glossary", title="Glossary", file="screens/glossary/glossary.py"),
    Screen(key="plan", title="Weight plan", file="screens/plans/plan.py", query="plan={plan}", hidden=True),
    Screen(
        key="new_plan",
        title="New weight plan",
        file="screens/plans/new_plan.py",
        query="athlete={athlete}",
        hidden=True,
    ),
    Screen(
        key="case",
        title="Case of a stay",
        file="screens/athlete/case.py",
        query="athlete={athlete}",
        hidden=True,
    ),
    Screen(
        key="compare",
        title="Compare",
        file="screens/athlete/compare.py",
        query="athlete={athlete}",
        hidden=True,
    ),
    Screen(
        key="behind",
        title="Athletes behind the number",
        file="screens/cohorts/behind.py",
        query="camp={camp}&measure={line}",
        hidden=True,
    ),
)
BY_KEY: Final = {screen.key: screen for screen in SCREENS}


def file_of(key: str) -> str:
    """The file of a screen, for a link to it."""
    return BY_KEY[key].file
