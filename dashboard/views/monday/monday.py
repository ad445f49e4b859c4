"""Monday: what waits for the viewer, the worst first, and what is new since their last visit; each with its link."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from latewood.dashboard.text.wording import count_of, day, full_day, joined
from latewood.dashboard.views.lookup import Lookup
from latewood.dashboard.views.monday.monday_lines import (
    BUILDS,
    CONSENTS,
    GAINS,
    HELD,
    PLANS,
    RESULTS,
    TESTS,
    WEIGHINS,
    Found,
    Item,
)
from latewood.dashboard.views.monday.monday_news import News, build_news
from latewood.dashboard.views.monday.monday_now import build_now
from latewood.dashboard.views.monday.monday_pairs import unpaired
from latewood.dashboard.views.monday.monday_tests import build_calendar
from latewood.dashboard.views.monday.monday_waits import (
    builds_lines,
    consents_lines,
    held_lines,
    overdue_line,
    plans_lines,
    weighins_lines,
)
from latewood.pipeline.access import Viewer

# A topic concerns a viewer who reads this kind of data and opens one of these screens, where it is settled.
NEEDS: Mapping[str, tuple[str, frozenset[str]]] = {
    PLANS: ("plan", frozenset({"plans"})),
    WEIGHINS: ("plan", frozenset({"plan", "weighin"})),
    TESTS: ("athlete", frozenset({"athlete"})),
    HELD: ("held", frozenset({"data"})),
    BUILDS: ("rebuild", frozenset({"data", "weighin"})),
    RESULTS: ("athlete", frozenset({"athlete"})),
    GAINS: ("athlete", frozenset({"athlete"})),
}
SEEN_ONLY = "its camps file states no test days, so the latest day on which at least half of the camp was tested counts"


@dataclass(frozen=True, slots=True, kw_only=True)
class Monday:
    """The page."""

    head: str
    settle: tuple[Item, ...]
    total: str
    nothing: str  # topics looked at in which nothing waits
    alarms: str  # how many plans would raise an alarm for nothing
    files: str  # for a steward: how many files came
    now: tuple[Item, ...]  # where the athletes at camp stand
    news: News
    since: str  # what the news are counted from
    aside: tuple[str, ...]


def concerns(viewer: Viewer) -> frozenset[str]:
    """The topics that concern somebody: those they may read and can settle or follow up."""
    settled = {CONSENTS} if viewer.holds("held") or viewer.holds("consent") else set()
    return frozenset(settled).union(
        t for t, (right, on) in NEEDS.items() if viewer.holds(right) and on & set(viewer.screens)
    )


def build_monday(found: Found, topics: frozenset[str], viewer: Viewer, today: date, lookup: Lookup) -> Monday:
    """The page of one viewer; `topics` are those that concern them."""
    screens = frozenset(viewer.screens)
    calendar = build_calendar(found.calendar, found.tested, today, lookup)
    plans, alarms = plans_lines(found, today, lookup) if PLANS in topics else ([], "")
    lines = {
        PLANS: plans,
        WEIGHINS: weighins_lines(found, today, lookup, screens),
        TESTS: [overdue_line(one, lookup, screens, found.absences) for one in calendar.overdue],
        CONSENTS: consents_lines(found, screens),
        HELD: held_lines(found),
        BUILDS: builds_lines(found, screens),
    }
    settle = [item for topic, items in lines.items() if topic in topics for item in items]
    settle.sort(key=lambda item: (not item.stop, not item.alarm))
    quiet = [topic for topic, items in lines.items() if topic in topics and not items]
    aside = [
        _new(plans, found),
        f"{joined(list(calendar.today))}: today is a test day." if calendar.today else "",
    ]
    if TESTS in topics and calendar.without:
        aside.append(f"{joined(list(calendar.without))}: {SEEN_ONLY}.")
    aside.append(unpaired(found.calendar, lookup.camps.values(), today))
    aside += [f"{camp}: the next test day is {_weekday(on)}." for camp, on in calendar.ahead]
    return Monday(
        head=_head(found, today),
        settle=tuple(settle),
        total=_total(settle),
        nothing=_nothing(quiet, everything=not settle),
        alarms=alarms,
        files=_files(found),
        now=build_now(found, today, lookup) if GAINS in topics else (),
        news=build_news(found.now, found.then, today, lookup),
        since=_since(found),
        aside=tuple(
            text for text in (*aside, *(f"{one[:1].upper()}{one[1:]}." for one in found.troubles)) if text
        ),
    )


def _head(found: Found, today: date) -> str:
    before = found.visit.before
    last = (
        "No earlier visit of yours is known."
        if before is None
        else f"Your last visit was on {_weekday(before.on)}."
    )
    return f"{_weekday(today)}. {last}"


def _new(plans: list[Item], found: Found) -> str:
    """What the mark beside a name means."""
    marked = any("(new" in link.label for item in plans for link in item.links)
    if not marked or found.visit.before is None:
        return ""
    return f"new: the plan reads otherwise than on {day(found.visit.before.on)}."


def _weekday(on: date) -> str:
    return f"{on:%A} {full_day(on)}"


def _since(found: Found) -> str:
    before = found.visit.before
    if before is None:
        return "the last seven days"
    return (
        day(before.on)
        if found.then is not None
        else f"the last seven days (what stood here on {day(before.on)} is no longer kept)"
    )


def _total(settle: list[Item]) -> str:
    n: Counter[str] = Counter()
    for item in settle:
        n[item.topic] += item.n
    words = {
        PLANS: ("plan to decide", "plans to decide"),
        WEIGHINS: ("athlete not weighed", "athletes not weighed"),
        TESTS: ("athlete not tested", "athletes not tested"),
        CONSENTS: ("withdrawal of consent that fits nobody", "withdrawals of consent that fit nobody"),
        HELD: ("held row", "held rows"),
        BUILDS: ("build to look after", "builds to look after"),
    }
    return ", ".join(count_of(n[topic], *words[topic]) for topic in words if n[topic])


_QUIET = {
    PLANS: "no plan waits for a decision",
    WEIGHINS: "everybody with an active plan was weighed within seven days",
    TESTS: "nobody has missed a test day",
    CONSENTS: "every withdrawal of consent fits an athlete",
    HELD: "no row is held",
    BUILDS: "the results are up to date",
}


def _nothing(quiet: list[str], *, everything: bool) -> str:
    words = joined([_QUIET[topic] for topic in quiet])
    if everything:
        return f"Nothing to do: {words}." if words else "Nothing to do."
    return f"Also looked at: {words}." if words else ""


def _files(found: Found) -> str:
    if not found.knows_why or found.now is None or found.then is None:
        return ""
    n = len(found.now.imports - found.then.imports)
    return f"{count_of(n, 'file')} came in since then." if n else "No file came in since then."
