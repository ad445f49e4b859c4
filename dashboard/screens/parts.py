"""What every screen draws alike: opening, empty states, charts with their text, cautions."""

from __future__ import annotations

import functools
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal, ParamSpec, TypeVar

import streamlit as st

from latewood.dashboard import signin
from latewood.dashboard.charts.drawing import safe as safe
from latewood.dashboard.charts.how_sure import sure_fold
from latewood.dashboard.charts.spec import Drawn, Sheet, specs
from latewood.dashboard.reads import warehouse
from latewood.dashboard.reads.rows import Build
from latewood.dashboard.screens.registry import file_of
from latewood.dashboard.text import empties, glossary
from latewood.dashboard.text.how_sure import kinds_at
from latewood.dashboard.text.wording import verbatim as verbatim
from latewood.dashboard.theme import Palette, palette
from latewood.dashboard.views.lookup import Lookup, keyed, keyed_by_line
from latewood.pipeline.errors import LatewoodError, NothingPublishedError, OtherVersionError

Thing = TypeVar("Thing")
Given = ParamSpec("Given")
STANDING_ONLY = "Only what is sure with all changes looked at together"
PORTION = 60  # rows of a list that are drawn at once; a camp fits


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """What a screen works with for one run."""

    build: Build
    lookup: Lookup
    today: date
    colours: Palette


def open_screen(title: str) -> Opened | None:
    """The published build and its lookup; None, with the reason on screen, where there is none."""
    st.header(title, anchor=False, help=glossary.help_of(title))
    try:
        build = published_or_none()
        if build is None:
            return None
        opened = Opened(build=build, lookup=_lookup(build), today=warehouse.today(), colours=palette(mode()))
    except LatewoodError as error:
        st.error(verbatim(str(error)))
        return None
    how_sure(title)
    return opened


def published_or_none() -> Build | None:
    """The published build; None, with the reason on screen, where there is none that can be read."""
    try:
        return warehouse.published(signin.viewer())
    except NothingPublishedError:
        empty(empties.NOTHING_BUILT)
    except OtherVersionError as error:
        empty(f"{empties.OTHER_VERSION[error.whose]} {empties.MAKE_ANEW}")
    except LatewoodError as error:
        st.error(verbatim(str(error)))
    return None


def fragment(draw: Callable[Given, None], every: float | None = None) -> Callable[Given, None]:
    """A part of a screen that runs again alone, by itself too `every` so many seconds.

    Where the viewer is no longer let in, a sentence in its place.
    """

    @functools.wraps(draw)
    def guarded(*args: Given.args, **kwargs: Given.kwargs) -> None:
        try:
            draw(*args, **kwargs)
        except LatewoodError as error:
            refused(f"Nothing more can be shown or saved here: {verbatim(str(error))}. Reload the page.")

    return st.fragment(guarded, run_every=every)


def section(title: str, place: str = "") -> None:
    """A heading that explains the terms under it, on hover and on tap; `place` is its key where the title varies."""
    st.subheader(title, anchor=False, help=glossary.help_of(place or title))
    how_sure(place or title)


def how_sure(place: str) -> None:
    """How sure the numbers under a heading are, in a fold; nothing where the heading has none."""
    sheet(sure_fold(kinds_at(place)))


def make(key: str, words: str, work: Callable[[], object]) -> bool:
    """Do what a press asked for, and whether it came; a click elsewhere stops the run, but not what was made."""
    # Writing into a plain dict is no place where a run can stop; writing into the session's state is one.
    kept = st.session_state.setdefault(key, {})
    try:
        with st.spinner(verbatim(words)):
            kept["made"] = work()
    except LatewoodError as error:
        st.error(verbatim(str(error)))
        return False
    return True


def made(key: str, kind: type[Thing]) -> Thing | None:
    """What the last press of this key made; None before the first."""
    result = st.session_state.get(key, {}).get("made")
    return result if isinstance(result, kind) else None


def mode() -> str:
    """'dark' or 'light', as the reader's page is now."""
    return st.context.theme.type or "light"


def units() -> str:
    """The system of units picked at the top of the page."""
    return str(st.session_state.get("app_units") or "us")


def _lookup(build: Build) -> Lookup:
    return Lookup(
        system=units(),
        athletes=keyed(warehouse.athletes(build), "athlete_id"),
        camps=keyed(warehouse.camps(build), "camp_id"),
        stays=keyed(warehouse.stays(build), "stay_id"),
        measures=keyed(warehouse.measures(build), "measure"),
        lines=keyed_by_line(warehouse.lines(build)),
        errors=keyed_by_line(warehouse.measurement_errors(build)),
    )


def empty(text: str) -> None:
    """An empty state: what to import, and how; Markdown, so what is not ours comes escaped."""
    st.info(text)


def refused(text: str) -> None:
    """What stands in the place of something the viewer may not see; Markdown, so what is not ours comes escaped."""
    st.warning(text)


def named(labels: Mapping[str, str]) -> Callable[[str], str]:
    """How a widget writes a key: its label."""
    return lambda key: labels.get(key, key)


def pick(
    label: str, ids: Sequence[str], first: str | None, name: Callable[[str], str], *, key: str
) -> str | None:
    """A picker of one id by its name; nothing is picked where `first` is not among them."""
    index = list(ids).index(first) if first is not None and first in ids else None
    return st.selectbox(
        label, ids, index=index, format_func=name, placeholder="Pick one, or type the name", key=key
    )


def caution(*texts: str) -> None:
    """Cautions, where the decision is made."""
    st.html("".join(f'<p class="lw-caution">{safe(text)}</p>' for text in texts))


def words(text: str, style: str = "lw-head") -> None:
    """A line of plain text."""
    if text:
        st.html(f'<p class="{style}">{safe(text)}</p>')


def chart(
    draw: Callable[[Sheet, Palette], Drawn], sheet: Sheet, colours: Palette, texts: Sequence[str]
) -> None:
    """What is drawn of a sheet, one below the other and as wide as its place, each with its text alternative."""
    for one, text in zip(specs(draw, sheet, colours), texts, strict=True):
        st.vega_lite_chart(spec=json.loads(one), width="stretch", theme=None, alt=text)


def sheet(html: str) -> None:
    """A drawing of HTML parts; nothing where there is nothing to draw."""
    if html:
        st.html(html)


def folded(label: str, things: Sequence[Thing], draw: Callable[[Sequence[Thing]], str], key: str) -> None:
    """Things of second rank in a fold that says how many; nothing where there are none."""
    if things:
        on_opening(f"{label}: {len(things)}", key, lambda: st.html(draw(things)))


def on_opening(label: str, key: str, draw: Callable[[], object], *, at_first: bool = False) -> None:
    """A fold whose inside is made when it is opened: closed, it costs the screen nothing."""
    fold = st.expander(label, expanded=at_first, key=key, on_change="rerun")
    if fold.open:
        with fold:
            draw()


def in_portions(rows: Sequence[Thing], draw: Callable[[Thing], object], key: str, many: str) -> None:
    """Rows of a long list, a portion at a time: a screen of thousands would be slow for everybody."""
    shown, more = portion(rows, key, many)
    for row in shown:
        draw(row)
    more()


def portion(
    rows: Sequence[Thing], key: str, many: str, at_once: int | None = None
) -> tuple[Sequence[Thing], Callable[[], None]]:
    """The rows to draw now, and what draws the button for more below them, or nothing where that is all."""
    held, step = f"{key}_shown", at_once or PORTION
    shown = int(st.session_state.get(held, step))
    left = len(rows) - shown

    def go_on() -> None:
        st.session_state[held] = shown + step

    def more() -> None:
        if left > 0:
            words(
                f"{shown:,} of {len(rows):,} {many} are listed. The field at the top finds anybody by name."
            )
            st.button(f"List {min(step, left):,} more", key=f"{key}_more", on_click=go_on)

    return rows[:shown], more


def table(rows: Iterable[Mapping[str, str]], text: str) -> None:
    """A table whose cells show their text as it came; a long one scrolls in its own place."""
    shown = [{verbatim(head): verbatim(cell) for head, cell in row.items()} for row in rows]
    height: int | Literal["content"] = 420 if len(shown) > 12 else "content"
    st.table(shown, hide_index=True, height=height, alt=text)


def bullets(texts: Iterable[str]) -> None:
    """A list of sentences."""
    st.markdown("\n".join(f"- {verbatim(text)}" for text in texts))


def athlete_link(athlete_id: str, name: str, section: str = "") -> None:
    """A link to one athlete's page, with a section of it open."""
    query = {"athlete": athlete_id, "section": section} if section else {"athlete": athlete_id}
    st.page_link(file_of("athlete"), label=verbatim(name), query_params=query)
