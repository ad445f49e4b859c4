"""The camp review as text in reading order: screen and sheet lay out these very strings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from latewood.pipeline.pages.camp.draw import draw_gain, draw_group, reach_of
from latewood.pipeline.pages.camp.groups import KINDS, rank_of
from latewood.pipeline.pages.camp.model import CampPart, CampReview, Gain, GroupSheet, Ratio
from latewood.pipeline.pages.camp.sentences import level_words, scale_of_gain
from latewood.pipeline.pages.words import PrintScale, count, day, joined, step_of

HEADS = (
    "Measure and method", "All measured, leavers counted", "Better to the right", "Drawn towards other camps",
    "Exit tested only, plain", "Single athletes", "Exit tests",
)  # fmt: skip
GROUP_HEAD = "Part of the camp"
KIND = "Camp review, internal: for the program's staff only"
KEY = (
    "In the chart the diamond is the gain of all measured, its bar the interval; the ring is the same drawn towards "
    "the program's other camps; the cross is the plain difference of those with an exit test. The upright line is no "
    "change."
)
GROUP_KEY = (
    "A dot is one athlete's own change, × one who left early, the diamond the mean of at least 8 with its interval. "
    "Fewer than 8: singles only, no mean. Parts are described, not compared, and here every athlete "
    "counts the same, so that everybody's mean may differ a little from the gain above. An own change is start to end "
    "of a line through the athlete's tests, the first day moved by what the camp's first days were off: it can "
    "differ from last minus first."
)
CAUTIONS = (
    "No number here says what caused a change. Without athletes who were measured and did not attend, a camp's share "
    "cannot be split off.",
    "This page names nobody, but a small part of a camp can be recognised: keep it within the program.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class GainLine:
    """One line of the first table: its cells under HEADS; the chart stands in the third."""

    key: str
    name: str
    method: str
    gain: str
    interval: str
    chart: str
    chart_alt: str
    pulled: str
    pulled_interval: str
    plain: str
    singles: str
    exits: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupCell:
    """One part of the camp in one measure: a strip of single athletes, and words."""

    chart: str
    chart_alt: str
    strong: str
    quiet: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupLine:
    """One part of the camp over the chosen measures."""

    kind: str
    name: str
    cells: tuple[GroupCell, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CampPage:
    """All words of the review, in the order in which they are read."""

    banner: str
    program: str
    kind: str
    name: str
    facts: tuple[str, ...]
    leavers: str
    sentences: tuple[str, ...]
    lines: tuple[GainLine, ...]
    refused: str
    key: str
    group_heads: tuple[str, ...]
    groups: tuple[GroupLine, ...]
    group_key: str
    breaks: tuple[str, ...]
    struck: str
    struck_reason: str
    cautions: tuple[str, ...]
    provenance: str


def make_page(review: CampReview) -> CampPage:
    """Return the words of a review."""
    given = [one for one in review.gains if one.gain is not None]
    reach, weeks = reach_of(given), [one.weeks for one in given]
    usual = max(weeks, key=weeks.count) if weeks else None
    return CampPage(
        banner="Invented data: no person here is real" if review.invented else "",
        program=review.program,
        kind=KIND,
        name=review.label,
        facts=_facts(review),
        leavers=_leavers(review),
        sentences=review.sentences,
        lines=tuple(_line(one, reach, usual, running=review.running) for one in given),
        refused=_refused([one for one in review.gains if one.gain is None]),
        key=_key(given, usual),
        group_heads=(GROUP_HEAD, *(_named(sheet) for sheet in review.groups)),
        groups=_groups(review.groups),
        group_key=GROUP_KEY,
        breaks=review.breaks or ("Ways of measuring: as in the camp before, where the measure was taken.",),
        struck="" if review.ratio is None else _struck(review.ratio),
        struck_reason="" if review.ratio is None else _struck_reason(review.ratio),
        cautions=CAUTIONS,
        provenance=(
            f"Made on {day(review.made_on)} · build {review.build_id} · catalogue {review.catalogue} · software "
            f"{review.version} · gains: mixed model per line, docs/methods.md section 8; parts: mean of athletes' own "
            "changes, t interval"
        ),
    )


def _key(given: list[Gain], usual: float | None) -> str:
    if not given:
        return ""
    level = level_words(given[0].level)
    return f"Ranges are {level} intervals; gains are over {usual or 0:.1f} weeks unless said. {KEY}"


def page_texts(page: CampPage) -> Iterator[str]:
    """Every string of the page in reading order, as a reader of the file meets them."""
    yield from (t for t in (page.banner, page.program, page.kind, page.name, *page.facts, page.leavers) if t)
    yield from page.sentences
    yield from HEADS
    for line in page.lines:
        cells = (
            line.name, line.method, line.gain, line.interval, line.pulled, line.pulled_interval, line.plain,
            line.singles, line.exits, line.note,
        )  # fmt: skip
        yield from (text for text in cells if text)
    yield from (t for t in (page.refused, page.key) if t)
    yield from page.group_heads
    for part in page.groups:
        yield part.name
        for cell in part.cells:
            yield from (t for t in (cell.strong, cell.quiet) if t)
    yield page.group_key
    yield from page.breaks
    yield from (t for t in (page.struck, page.struck_reason) if t)
    yield from page.cautions
    yield page.provenance


def _facts(review: CampReview) -> tuple[str, ...]:
    who = [f"{count(review.enrolled, 'athlete')} enrolled"]
    who.append(f"{review.here} still here" if review.running else f"{review.finished} finished")
    return (f"{day(review.starts_on)} to {day(review.ends_on)}", ", ".join(who))


def _leavers(review: CampReview) -> str:
    n = len(review.left_weeks)
    if n == 0:
        return "Nobody left early."
    weeks = joined([f"{one:.1f}" for one in review.left_weeks])
    return f"{'×' * min(n, 20)} {n} left early, after {weeks} weeks; they count in every gain with what they showed."


def _line(one: Gain, reach: float, usual: float | None, *, running: bool) -> GainLine:
    step = step_of(scale_of_gain(one), one.better)

    def span(low: float | None, high: float | None) -> str:
        if low is None or high is None:
            return ""
        return step.span(low, high)

    gain = step.words(one.gain or 0.0)
    interval = span(one.low, one.high)
    return GainLine(
        key=f"{one.key}|{one.line}",
        name=one.label,
        method=one.method,
        gain=gain,
        interval=interval if one.weeks == usual else f"{interval}; {one.weeks or 0:.1f} weeks",
        chart=draw_gain(one, reach),
        chart_alt=f"{one.label}: {gain}, interval {interval}",
        pulled="too few camps" if one.pulled is None else step.words(one.pulled),
        pulled_interval=span(one.pulled_low, one.pulled_high),
        plain=_plain(one, running=running),
        singles=_singles(one),
        exits="not due yet" if running and one.with_exit == 0 else _exits(one),
        note="" if running else one.reason,
    )  # fmt: skip


def _exits(one: Gain) -> str:
    return f"{one.with_exit} of {one.measured}" + (f", {one.no_exit} missing" if one.no_exit else "")


def _plain(one: Gain, *, running: bool) -> str:
    if one.plain is not None:
        return f"{step_of(scale_of_gain(one), one.better).words(one.plain)} (n = {one.with_exit})"
    return "no exit test yet" if running and one.with_exit == 0 else f"too few (n = {one.with_exit})"


def _singles(one: Gain) -> str:
    parts = [f"{one.clear_gain} clear gain", f"{one.unclear} not clear", f"{one.clear_loss} clear loss"]
    if one.too_few:
        parts.append(f"{one.too_few} too few tests")
    return " · ".join(part.replace(" ", "\u00a0") for part in parts)


def _refused(some: list[Gain]) -> str:
    if not some:
        return ""
    text = joined([f"{one.label}{f' ({one.method})' if one.method else ''} {one.measured}" for one in some])
    return f"No group number, single athletes only (number of athletes): {text}."


def _named(sheet: GroupSheet) -> str:
    return f"{sheet.label} ({sheet.method})" if sheet.method else sheet.label


def _groups(sheets: tuple[GroupSheet, ...]) -> tuple[GroupLine, ...]:
    keys = dict.fromkeys((group.kind, group.name) for sheet in sheets for group in sheet.groups)
    ordered = sorted(keys, key=lambda key: (KINDS.index(key[0]), rank_of(key[1])))
    return tuple(
        GroupLine(kind=kind, name=name, cells=tuple(_cell(sheet, kind, name) for sheet in sheets))
        for kind, name in ordered
    )


def _cell(sheet: GroupSheet, kind: str, name: str) -> GroupCell:
    group = next((one for one in sheet.groups if (one.kind, one.name) == (kind, name)), None)
    if group is None:
        told_apart = any(one.kind == kind for one in sheet.groups)
        quiet = "nobody" if told_apart else "not divided: see Everybody"  # all are in one group of this kind
        return GroupCell(chart="", chart_alt="", strong="", quiet=quiet)
    strong, quiet = group_words(sheet, group)
    alt = f"{name}: {strong} {quiet}"
    return GroupCell(chart=draw_group(sheet, group), chart_alt=alt, strong=strong, quiet=quiet)


def group_words(sheet: GroupSheet, group: CampPart) -> tuple[str, str]:
    """The mean with its unit, and interval and n; or that there is none."""
    n = len(group.singles)
    only = "" if n == group.n else f", {group.n - n} tested once"
    if group.mean is None or group.low is None or group.high is None:
        return "", f"n\u00a0{n}{only}: singles only"
    step = step_of(PrintScale(unit=sheet.unit, factor=1.0, decimals=sheet.decimals), sheet.better)
    return step.words(group.mean), f"{step.span(group.low, group.high)} · n\u00a0{n}{only}"


def _signed(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}".replace("-", "\u2212")
    return f"+{text}" if value > 0 else text


def _struck(ratio: Ratio) -> str:
    return f"{_signed(ratio.struck, ratio.decimals)} {ratio.unit}"


def _struck_reason(ratio: Ratio) -> str:
    why = (
        f" is gained {ratio.label[0].lower()}{ratio.label[1:]} divided by gained mass: not the effect of mass, since "
        "time, practice, growth and learning the test went along, so it is struck out."
    )
    if ratio.per_mass is None or ratio.low is None or ratio.high is None:
        return f"{why} Within athletes at equal time nothing can be said: {ratio.reason}."
    low, high = (_signed(value, ratio.decimals) for value in (ratio.low, ratio.high))
    return (
        f"{why} Within athletes at equal time, all camps together: {_signed(ratio.per_mass, ratio.decimals)} "
        f"{ratio.unit} ({level_words(ratio.level)} {low} to {high}; {count(ratio.n, 'athlete')}); what goes together, "
        "not what caused what."
    )
