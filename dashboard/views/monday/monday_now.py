"""Where the athletes at camp stand now: better, worse, nearly settled, values that count in nothing, no test lately."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta

from latewood.dashboard.reads.rows import Stay
from latewood.dashboard.text.wording import chance_text, count_of, full_day, joined
from latewood.dashboard.views.athlete.retest import NEARLY
from latewood.dashboard.views.data.steward import rule_title
from latewood.dashboard.views.lookup import Lookup
from latewood.dashboard.views.monday.monday_lines import GAINS, Found, Item, Link, Unusable
from latewood.dashboard.views.monday.monday_news import is_clear, is_judged
from latewood.dashboard.views.monday.monday_pairs import second_days
from latewood.pipeline.ingest.logs.conclusions import Conclusion
from latewood.pipeline.stats.change.flags import clear_together
from latewood.pipeline.stats.change.results import RetestAdvice

NAMES = 4  # links of one line; the others are counted
MONTH = 30  # days
BETTER, WORSE = "clear gain", "clear loss"


def build_now(found: Found, today: date, lookup: Lookup) -> tuple[Item, ...]:
    """The five lines about those who are at camp today, and who should be tested twice; none where nobody is."""
    here = {one.stay_id: one for one in lookup.stays.values() if is_here(one, today)}
    if not here or found.now is None:
        return ()
    trends = [one for one in found.now.trends if one.stay_id in here and one.measure in lookup.measures]
    judged = [one for one in trends if is_judged(one)]
    kept = clear_together([one.z for one in judged], [is_clear(one) for one in judged])
    sure = [one for one, stays in zip(judged, kept, strict=True) if stays]
    return (
        _changed("Better", BETTER, sure, len(judged), lookup),
        _changed("Worse", WORSE, sure, len(judged), lookup),
        _nearly([one for one in found.retests if one.stay_id in here], lookup),
        _unusable([one for one in found.unusable if one.stay_id in here], lookup),
        _untested(found, list(here.values()), today, lookup),
        *_pairs(found, list(here.values()), today, lookup),
    )


def in_short(item: Item) -> str:
    """One of the lines for a small screen: its title, the first of its names, and how many more there are."""
    if not item.links:
        return f"{item.title}: nobody"
    more = f" and {item.n - 1} more" if item.n > 1 else ""
    return f"{item.title}: {item.links[0].label}{more}"


def is_here(stay: Stay, today: date) -> bool:
    """Whether the stay covers today."""
    return stay.arrived_on <= today <= (stay.left_on or stay.planned_until)


def _changed(title: str, verdict: str, sure: Sequence[Conclusion], judged: int, lookup: Lookup) -> Item:
    own = sorted((one for one in sure if one.verdict == verdict), key=lambda one: -abs(one.z or 0.0))
    labels = _by_athlete((one.athlete_id, lookup.label(one.measure)) for one in own)
    why = f"Nobody for sure, of {count_of(judged, 'change')} since intake."
    if own:
        why = f"For sure since intake, of {count_of(judged, 'change')}; about 1 in 10 named here is luck."
    return Item(topic=GAINS, n=len(labels), title=title, why=why, links=_links(labels, lookup))


def _nearly(advice: Sequence[RetestAdvice], lookup: Lookup) -> Item:
    near = [one for one in advice if one.extra == 1 and one.chance_clear >= NEARLY]
    near = sorted((one for one in near if one.measure in lookup.measures), key=lambda one: -one.chance_clear)
    labels = _by_athlete(
        (one.athlete_id, f"{lookup.label(one.measure)}, {chance_text(one.chance_clear)}") for one in near
    )
    why = (
        "Not clear yet. The number: the chance that one more test day makes it clear."
        if near
        else "No open change has an even chance to become clear by one more test day."
    )
    title = "One more test would settle it"
    return Item(topic=GAINS, n=len(labels), title=title, why=why, links=_links(labels, lookup))


def _unusable(values: Sequence[Unusable], lookup: Lookup) -> Item:
    n: Counter[str] = Counter(one.athlete_id for one in values)
    labels = {one: count_of(n[one], "value") for one, _ in n.most_common()}
    reasons = Counter(one.rule for one in values).most_common(3)
    why = "Every value of those at camp is in use."
    if values:
        most = joined([f"{rule_title(rule).lower()} ({count})" for rule, count in reasons])
        why = (
            f"{count_of(len(values), 'value')} wait for the data steward: {most}"
            f"{' and others' if len({one.rule for one in values}) > len(reasons) else ''}."
        )
    links = _links(labels, lookup)
    return Item(topic=GAINS, n=len(labels), title="Unusable values", why=why, links=links)


def _untested(found: Found, here: Sequence[Stay], today: date, lookup: Lookup) -> Item:
    """Those without any test but body mass for a month; who came less than a month ago counts from the first day."""
    since = today - timedelta(days=MONTH)
    last: dict[str, date] = {}
    for one in found.tested:
        last[one.stay_id] = max(one.held_on, last.get(one.stay_id, one.held_on))
    missing = [stay for stay in here if last.get(stay.stay_id, date.min) < since]
    labels = {
        stay.athlete_id: f"last on {full_day(last[stay.stay_id])}" if stay.stay_id in last else "none yet"
        for stay in sorted(
            missing, key=lambda one: (last.get(one.stay_id, date.min), lookup.name(one.athlete_id))
        )
    }
    why = f"{len(missing) or 'Nobody'} of {len(here)} at camp, body mass aside, since {full_day(since)}."
    links = _links(labels, lookup)
    return Item(topic=GAINS, n=len(labels), title="No test this month", why=why, links=links)


def _pairs(found: Found, here: Sequence[Stay], today: date, lookup: Lookup) -> tuple[Item, ...]:
    """Those who should be tested on a second day, if any."""
    labels = second_days(here, found.tested, today, lookup)
    if not labels:
        return ()
    why = "A second test day soon tells gain from one good or bad day. Within what the coach allows for throwing."
    links = _links(labels, lookup)
    return (Item(topic=GAINS, n=len(labels), title="Test on a second day", why=why, links=links),)


def _by_athlete(rows: Iterable[tuple[str, str]]) -> dict[str, str]:
    """The words about each athlete, the first as it is, the others counted."""
    words: dict[str, list[str]] = {}
    for athlete_id, text in rows:
        words.setdefault(athlete_id, []).append(text)
    return {
        one: texts[0] if len(texts) == 1 else f"{texts[0]} and {len(texts) - 1} more"
        for one, texts in words.items()
    }


def _links(labels: Mapping[str, str], lookup: Lookup) -> tuple[Link, ...]:
    links = [
        Link(label=f"{lookup.name(one)} ({text})", screen="athlete", query=(("athlete", one),))
        for one, text in labels.items()
    ]
    more = len(links) - NAMES
    return tuple(links if more <= 0 else (*links[:NAMES], Link(label=f"and {more} more", screen="athlete")))
