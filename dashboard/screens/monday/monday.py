"""Monday: what waits for the person who looks, and what is new since their last visit."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from latewood.dashboard import signin
from latewood.dashboard.charts.lines import became_line, item_line
from latewood.dashboard.reads import monday_reads
from latewood.dashboard.reads.rows import Build
from latewood.dashboard.screens import parts, provisional_part
from latewood.dashboard.screens.registry import file_of
from latewood.dashboard.text import cautions
from latewood.dashboard.text.wording import count_of, day
from latewood.dashboard.views.monday.monday import Monday, build_monday, concerns
from latewood.dashboard.views.monday.monday_lines import GAINS, HELD, RESULTS, Item, Link
from latewood.dashboard.views.monday.monday_news import Became, DayNews
from latewood.dashboard.views.monday.monday_now import in_short
from latewood.pipeline.errors import LatewoodError

FILES = {
    "plans": file_of("plans"), "plan": file_of("plan"), "weighin": file_of("weighin"), "athlete": file_of("athlete"),
    "cohorts": file_of("cohorts"), "data": file_of("data"), "summaries": file_of("summaries"),
}  # fmt: skip
SHOWN = 8  # changes drawn at once; the rest is in a fold
DAYS = 5
NOT_COMPARED = (
    "From your next visit on, the changes that became clear since this one stand here, each with the reason."
)


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("Monday")
    if opened is None:
        _failed_first()
        return
    viewer = opened.build.viewer
    topics = concerns(viewer)
    with st.spinner("Looking what waits and what is new"):
        result = monday_reads.gather(opened.build, opened.today, topics)
        view = build_monday(result, topics, viewer, opened.today, opened.lookup)
    parts.words(view.head)
    with st.container(key="monday_short"):  # on a phone only: the lines themselves begin far down
        parts.sheet("".join(f'<p class="lw-short">{parts.safe(in_short(item))}</p>' for item in view.now))
    provisional_part.mark(opened)
    left, right = st.columns([6, 5], gap="large")
    half = 0 if view.settle else 2  # where nothing is to settle, the left half is free for the first lines
    with left:
        _settle(view)
        _now(view.now[:half], 0)
    with right:
        _now(view.now[half:], half)
        if view.now:
            parts.caution(cautions.MEASUREMENT)
        _news(opened.build, view, topics)


def _failed_first() -> None:
    """Why there is no build yet, where one was tried."""
    try:
        failed = monday_reads.failed(signin.viewer())
    except LatewoodError:
        return
    if failed and signin.viewer().holds("import"):
        st.warning(f"The last build failed: {parts.verbatim(failed[-1].reason)}")


def _settle(view: Monday) -> None:
    parts.section("To settle")
    parts.words(view.total, "lw-total-words")
    for at, item in enumerate(view.settle):
        _item(item, f"settle_{at}")
    if not view.settle:
        parts.empty(parts.verbatim(view.nothing))
    parts.words(view.alarms, "lw-small")
    if view.settle:
        parts.words(view.nothing, "lw-small")
    for text in view.aside:
        parts.words(text, "lw-small")


def _now(items: Sequence[Item], first: int) -> None:
    """Where the athletes at camp stand, whatever was looked at before; the heading above the first of these lines."""
    if items and first == 0:
        parts.section("Your athletes now")
    for at, item in enumerate(items, first):
        _item(item, f"now_{at}")


def _item(item: Item, at: str) -> None:
    with st.container(gap=None):
        st.html(item_line(item))
        if item.stop:
            parts.caution(cautions.STOP)
        with st.container(key=f"monday_links_{at}"):
            _links(item.links)


def _links(links: Sequence[Link]) -> None:
    """Links beside each other, as many as the width takes."""
    with st.container(horizontal=True, gap="small"):
        for link in links:
            _link(link)


def _link(link: Link) -> None:
    label = parts.verbatim(link.label)
    st.page_link(FILES[link.screen], label=label, query_params=dict(link.query), width="content")


def _news(build: Build, view: Monday, topics: frozenset[str]) -> None:
    parts.section(f"New since {parts.verbatim(view.since)}", "New")
    if HELD in topics:
        parts.words(view.files)
    if RESULTS in topics:
        _tests(build, view.news.tests)
    if GAINS in topics:
        _became(view)


def _tests(build: Build, tests: Sequence[DayNews]) -> None:
    if not tests:
        parts.words("No new test result.")
        return
    screen = "cohorts" if "cohorts" in build.viewer.screens else "athlete"
    for one in tests[:DAYS]:
        text = f"{count_of(one.n_athletes, 'athlete')} tested, {count_of(one.n_tests, 'result')}"
        with st.container(horizontal=True, gap="small", vertical_alignment="center"):
            _link(Link(label=f"{one.camp}, {day(one.on)}", screen=screen, query=(("camp", one.camp_id),)))
            st.html(f'<div class="lw-words">{parts.safe(text)}</div>', width="content")
    if len(tests) > DAYS:
        parts.words(f"and {count_of(len(tests) - DAYS, 'earlier day')}.", "lw-small")


def _became(view: Monday) -> None:
    news = view.news
    if not news.compared:
        parts.words(NOT_COMPARED, "lw-small")
        return
    parts.words(news.head, "lw-total-words")
    parts.words(news.why_all, "lw-small")
    for one in news.first[:SHOWN]:
        _change(one)
    others = [*news.first[SHOWN:], *news.alone]
    if others:
        with st.expander(parts.verbatim(news.fold)):
            for one in others:
                _change(one)
    parts.words(f"{news.by_chance} {news.together}".strip(), "lw-small")
    if news.first or news.alone:
        parts.caution(cautions.MEASUREMENT)


def _change(one: Became) -> None:
    with st.container(gap=None):
        parts.athlete_link(one.athlete_id, one.name)
        st.html(became_line(one))


if __name__ == "__main__":
    render()
