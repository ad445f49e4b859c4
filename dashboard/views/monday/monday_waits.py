"""What waits on Monday, topic by topic: plans, weigh-ins, tests, held rows, builds."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from itertools import zip_longest

from latewood.dashboard.reads.rows import Plan, Stay
from latewood.dashboard.text.wording import count_of, day, full_day
from latewood.dashboard.views.data.steward import SETTLE, UNPLACED, places_of, rule_title
from latewood.dashboard.views.lookup import Lookup
from latewood.dashboard.views.monday.monday_lines import (
    BUILDS,
    CONSENTS,
    HELD,
    PLANS,
    TESTS,
    WEIGHINS,
    Found,
    Item,
    Link,
    not_measured,
)
from latewood.dashboard.views.monday.monday_tests import Overdue
from latewood.dashboard.views.plans.plans import Card, build_board, is_active
from latewood.pipeline.ingest.logs.entered import TypedEntry
from latewood.pipeline.ingest.logs.planlog import PAUSE, REFER, decisions_of
from latewood.pipeline.stats.plans.rules import ON_PLAN
from latewood.pipeline.stats.plans.rules import REFER as REFER_STATUS

WITHOUT_DAYS = 7  # an active plan without a weigh-in for so long is listed
NAMES = 12  # at most so many names in one line; the rest is behind its link
RULES = 3  # at most so many reasons of held rows are named


def plans_lines(found: Found, today: date, lookup: Lookup) -> tuple[list[Item], str]:
    """Plans that need a decision by what is said of them: referrals first, then as on the board."""
    if found.record is None:
        return [], ""
    board = build_board(found.record, None, today, lookup)
    rows = {one.plan_id: one.table_row for one in found.record.advice}
    status = {one.plan_id: one.status for one in found.record.reviews}
    groups: dict[tuple[bool, str, str], list[Card]] = {}
    for card in board.cards:
        if card.needs_decision:
            stop = status.get(card.plan_id) == REFER_STATUS or rows.get(card.plan_id) in {"0", "1"}
            groups.setdefault((stop, card.table or card.status, card.decide), []).append(card)
    before = (
        {} if found.then is None else {one.plan_id: (one.status, one.table_row) for one in found.then.plans}
    )
    now = {plan_id: (status[plan_id], rows.get(plan_id, "")) for plan_id in status}
    items = []
    for (stop, words, decide), cards in groups.items():
        names = [_plan_link(card, new=_is_new(card, before, now, found)) for card in cards]
        why = common_reason([card.reason for card in cards if status.get(card.plan_id) != ON_PLAN])
        said_why = f"{why[:1].upper()}{why[1:]}. {decide}" if why else decide
        links = _capped(names, "plans")
        items.append(Item(topic=PLANS, n=len(cards), title=words, why=said_why, links=links, stop=stop))
    return items, board.false_alarms if items else ""


def common_reason(reasons: Sequence[str]) -> str:
    """What reasons that differ in their numbers only have in common, each number as a range; '' where they differ.

    >>> common_reason(["above the ceiling with a chance of 94 %", "above the ceiling with a chance of 91 %"])
    'above the ceiling with a chance of 91 to 94 %'
    """
    parts = [re.split(r"(\d+(?:\.\d+)?)", reason.partition(":")[0].strip()) for reason in reasons]
    if not parts or any(one[::2] != parts[0][::2] for one in parts):
        return ""
    spans = [sorted(result, key=float) for result in list(zip(*parts, strict=True))[1::2]]
    numbers = [low if low == high else f"{low} to {high}" for low, *_, high in (one * 2 for one in spans)]
    return "".join(text for pair in zip_longest(parts[0][::2], numbers, fillvalue="") for text in pair)


def _is_new(
    card: Card, before: Mapping[str, tuple[str, str]], now: Mapping[str, tuple[str, str]], found: Found
) -> bool:
    return found.then is not None and before.get(card.plan_id) != now.get(card.plan_id)


def _plan_link(card: Card, *, new: bool) -> Link:
    requested = card.standing.waits_for
    beside = [
        text for text in ("new" if new else "", requested if requested != "no decision yet" else "") if text
    ]
    label = f"{card.name} ({'; '.join(beside)})" if beside else card.name
    return Link(label=label, screen="plan", query=(("plan", card.plan_id),))


def _capped(links: list[Link], screen: str) -> tuple[Link, ...]:
    more = len(links) - NAMES
    if more <= 0:
        return tuple(links)
    return (*links[:NAMES], Link(label=f"and {more} more", screen=screen))


def weighins_lines(found: Found, today: date, lookup: Lookup, screens: frozenset[str]) -> list[Item]:
    """Active plans without a weigh-in for seven days; a plan that is paused or referred asks for none."""
    if found.record is None:
        return []
    last = {one.plan_id: one.as_of for one in found.record.reviews}
    weighed = {one.plan_id for one in found.record.reviews if one.n_weighins > 0}
    stopped = {
        plan
        for plan, made in decisions_of(found.record.events).items()
        if made[-1].decision in {PAUSE, REFER}
    }
    late: list[tuple[int, Plan]] = []
    for plan in found.record.plans:
        stay = lookup.stays.get(plan.stay_id or "")
        days = (today - last.get(plan.plan_id, plan.start_on)).days
        if _runs(plan, stay, today) and plan.plan_id not in stopped and plan.athlete_id not in found.typed:
            late += [(days, plan)] if days >= WITHOUT_DAYS else []
    late.sort(key=lambda one: (-one[0], lookup.name(one[1].athlete_id)))
    if not late:
        return []
    names = [
        Link(
            label=f"{lookup.name(plan.athlete_id)} ({_ago(days, weighed=plan.plan_id in weighed)})"
            + not_measured(found.absences, plan.athlete_id, mass=True),
            screen="plan" if "plan" in screens else "athlete",
            query=(("plan", plan.plan_id),) if "plan" in screens else (("athlete", plan.athlete_id),),
        )
        for days, plan in late
    ]
    links = _capped(names, "plans" if "plans" in screens else "weighin")
    enter = (Link(label="Weigh in", screen="weighin"),) if "weighin" in screens else ()
    title = f"No weigh-in for {WITHOUT_DAYS} days"
    return [
        Item(
            topic=WEIGHINS, n=len(late), title=title, links=(*enter, *links),
            why="Athletes with an active plan. Without weigh-ins its status is as old as the last one.",
        )
    ]  # fmt: skip


def _runs(plan: Plan, stay: Stay | None, today: date) -> bool:
    return plan.start_on <= today and is_active(plan, stay, today)


def _ago(days: int, *, weighed: bool) -> str:
    return count_of(days, "day") if weighed else f"never since {count_of(days, 'day')}"


def overdue_line(
    one: Overdue, lookup: Lookup, screens: frozenset[str], absences: Iterable[TypedEntry] = ()
) -> Item:
    """Those of one camp who missed its latest test day, with the reason where one was noted."""
    camp, on = lookup.camp_label(one.camp_id), day(one.due)
    enter = (
        (Link(label="Enter results", screen="weighin", query=_first_test(lookup)),)
        if "weighin" in screens
        else ()
    )
    roster = Link(label=f"Athletes of {camp}", screen="athlete", query=(("camp", one.camp_id),))
    if one.nobody_tested:
        links: Iterable[Link] = (roster,)
        why = f"No result of anybody has come in since {on}: import the files, or move the day in the camps file."
    else:
        names = [
            Link(
                label=lookup.name(a) + not_measured(absences, a, mass=False),
                screen="athlete",
                query=(("athlete", a),),
            )
            for a in one.athlete_ids
        ]
        links = (*names[:NAMES], roster) if len(names) > NAMES else names
        why = f"Of {one.n_there} who were at {camp} that day and still are."
    title = f"Not tested since the test day of {on}, {camp}"
    return Item(topic=TESTS, n=len(one.athlete_ids), title=title, why=why, links=(*enter, *links))


def _first_test(lookup: Lookup) -> tuple[tuple[str, str], ...]:
    outputs = [one for one in lookup.measures.values() if one.family == "skill_output"]
    return tuple(("measure", one.measure) for one in sorted(outputs, key=lambda m: m.position)[:1])


def held_lines(found: Found) -> list[Item]:
    """Held rows by reason, the most frequent first."""
    if not found.held:
        return []
    counts = Counter(row.rule for row in found.held)
    questions = len({(row.rule, row.group_id or row.held_id) for row in found.held})
    most = [f"{rule_title(rule).lower()} ({n})" for rule, n in counts.most_common(RULES)]
    others = len(counts) - len(most)
    more = f" and {count_of(others, 'other reason')}" if others > 0 else ""
    since = ""
    if found.then is not None and found.visit.before is not None:
        grown = len(found.held) - found.then.n_open
        than = f"on {day(found.visit.before.on)}"
        since = (
            f" {abs(grown)} {'more' if grown > 0 else 'fewer'} than {than}."
            if grown
            else f" As many as {than}."
        )
    return [
        Item(
            topic=HELD, n=len(found.held), title=f"Held rows in {count_of(questions, 'question')}",
            why=f"Most: {', '.join(most)}{more}. They count in no result until they are answered.{since}",
            links=(Link(label="Answer them", screen="data"),),
        )
    ]  # fmt: skip


def consents_lines(found: Found, screens: frozenset[str]) -> list[Item]:
    """Withdrawals of consent that fit nobody: file and line alone, since whose they are is not known."""
    if not found.unplaced:
        return []
    ways = {"data": "Reject the row", "summaries": "Withdraw the consent"}
    return [
        Item(
            topic=CONSENTS, n=len(found.unplaced), title=UNPLACED, why=f"{places_of(found.unplaced)}. {SETTLE}",
            links=tuple(Link(label=label, screen=screen) for screen, label in ways.items() if screen in screens),
            alarm=True,
        )
    ]  # fmt: skip


def builds_lines(found: Found, screens: frozenset[str]) -> list[Item]:
    """Builds that failed since the last good one, and what waits for one."""
    settle = (
        Link(label="Open Data", screen="data")
        if "data" in screens
        else Link(label="Build now", screen="weighin")
    )
    if found.failed:
        last = found.failed[-1]
        reason = f": {last.reason}" if found.knows_why else "; the data steward can see why"
        when = f"The last one on {full_day(last.at.date())} at {last.at:%H:%M}{reason}."
        old = " Something waits for a build." if found.behind else " Nothing waits for a build now."
        title = "Builds that failed" if len(found.failed) > 1 else "Build that failed"
        why = f"{when} The screens show the build before it.{old}"
        return [Item(topic=BUILDS, n=len(found.failed), title=title, why=why, links=(settle,))]
    if not found.behind:
        return []
    why = "Files, answers, entries or settings have changed since the results on these screens were made."
    return [Item(topic=BUILDS, n=1, title="Build is due", why=why, links=(settle,))]
