"""The forms of the Data screen: upload, answer a question, withdraw a file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from latewood.dashboard import signin
from latewood.dashboard.actions import look_actions, steward_actions
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.data import look_desk
from latewood.dashboard.text import empties
from latewood.dashboard.text.wording import verbatim
from latewood.dashboard.views.data.look import known_before
from latewood.dashboard.views.data.steward import ImportLine, Question, offered_answers
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.logs.decisions import Decision

ROWS = 6  # of a question, or of the imported files, drawn at once
ANSWERS = {
    "exchange": "Give each value to the other athlete",
    "mend": "Take the proposal",
    "accept": "Take it as it stands",
    "reject": "Leave it out",
    "assign": "It belongs to …",
    "correct": "The right value is …",
}


def say_what_was_done() -> None:
    """The result of the last action, once."""
    for text in st.session_state.pop("data_done", []):
        st.success(verbatim(text))


def do(action: Callable[[], Sequence[str]]) -> None:
    """Run an action and draw the page anew, or say what was wrong and leave all as it was."""
    try:
        done = list(action())
    except LatewoodError as error:
        st.error(verbatim(str(error)))
        return
    st.session_state["data_done"] = done
    st.rerun()


def your_name(place: DeltaGenerator, key: str) -> str:
    """Who does it: typed by the person at the machine; nobody signed in may give another name."""
    viewer = signin.viewer()
    if viewer.signed_in:
        place.text_input("Your name", value=viewer.name, disabled=True, key=key)
        return viewer.signs("")
    return place.text_input("Your name", key=key)


def upload() -> None:
    """Drop files in."""
    form = st.form("data_upload", clear_on_submit=True)
    with form:
        files = st.file_uploader(
            "CSV or Excel: roster, camps, stays, plans, consents or readings; motion capture as C3D or storage file",
            accept_multiple_files=True,
            key="data_files",
            type=["csv", "txt", "tsv", "xlsx", "xls", "xlsm", "c3d", "sto", "mot"],
        )
        who = your_name(form, "data_upload_who")
        sent = st.form_submit_button("Import")
    if not sent:
        return
    if not files or not who.strip():
        st.error("Pick at least one file and say who you are.")
        return
    do(lambda: _arrived([(one.name, one.getvalue()) for one in files], who.strip()))


def _arrived(files: Sequence[tuple[str, bytes]], who: str) -> list[str]:
    """Take the files that are known; lay the others on the desk, to be looked at first."""
    viewer = signin.viewer()
    looks = look_actions.look(viewer, files, {})
    known = [one for one in looks if known_before(one)]
    new = [(one.name, one.content) for one in looks if not known_before(one)]
    done = (
        steward_actions.take_files(viewer, [(one.name, one.content) for one in known], who) if known else []
    )
    if new:
        look_desk.put(new, who)
    return done


def question(
    asked: Question, names: Mapping[str, str], log: steward_actions.Log, seen: int, *, first: bool
) -> None:
    """One question with its rows and the form that answers it.

    `log` holds the decisions as they are now, `seen` how many there were when the page was last drawn.
    """
    last = log.last(asked.held_ids, asked.rule)
    label = f"{verbatim(asked.title)}: {verbatim(asked.about)}{' (answered)' if last else ''}"
    key = f"data_open_{asked.key}_{asked.rule}"
    parts.on_opening(label, key, lambda: _opened(asked, names, last, seen), at_first=first)


def _opened(asked: Question, names: Mapping[str, str], last: Decision | None, seen: int) -> None:
    if last is not None:
        st.info(
            f"Answered by {verbatim(last.decided_by)}: {verbatim(last.action)} ({verbatim(last.why)}). "
            "It counts from the next rebuild; a new answer takes its place."
        )
    parts.words(asked.lines[0].reason)
    parts.words(asked.what_to_do, "lw-small")
    if asked.proposal:
        st.markdown(f"**Proposal:** {verbatim(asked.proposal)}")
    _rows_of(asked)
    _answer_form(asked, names, seen)


def _rows_of(asked: Question) -> None:
    """The rows of a question: the first at once, all of them where asked for."""
    table = [
        {
            "Where": line.where,
            "Who": line.who,
            "What": line.what,
            "As it came": line.raw,
            "Proposed": line.proposal or "nothing",
        }
        for line in asked.lines
    ]
    every = len(table) > ROWS and st.checkbox(
        f"Show all {len(table):,} rows; one answer settles all",
        key=f"data_rows_{asked.key}_{asked.rule}",
    )
    parts.table(table if every else table[:ROWS], f"{asked.title}: the rows as they came")


def _answer_form(asked: Question, names: Mapping[str, str], seen: int) -> None:
    offered = offered_answers(asked)
    if asked.needs_athlete and asked.rule != "swapped_pair":
        offered.sort(key=lambda one: one != "assign")
    with st.form(f"data_answer_{asked.rule}_{asked.key}", border=False):
        action = st.radio(
            "Answer",
            offered,
            format_func=parts.named(ANSWERS),
            horizontal=True,
            key=f"data_action_{asked.key}_{asked.rule}",
        )
        athlete = st.selectbox(
            "Athlete, where it belongs to one",
            list(names),
            index=None,
            format_func=parts.named(names),
            placeholder="Nobody picked",
            key=f"data_athlete_{asked.key}_{asked.rule}",
        )
        value = None
        if "correct" in offered:
            value = st.text_input(
                "Right value, in the unit of the row", key=f"data_value_{asked.key}_{asked.rule}"
            )
        left, right = st.columns(2)
        who = your_name(left, f"data_who_{asked.key}_{asked.rule}")
        why = right.text_input("Why", key=f"data_why_{asked.key}_{asked.rule}")
        sent = st.form_submit_button("Write down the answer")
    if sent:
        if action == "assign" and athlete is None:
            st.error("Pick the athlete these rows belong to.")
            return
        signed = steward_actions.SignedReason(who=who, why=why, seen=seen)
        do(lambda: _answer(asked, action, value if action == "correct" else athlete, signed))


def _answer(
    asked: Question, action: str, given: str | None, signed: steward_actions.SignedReason
) -> list[str]:
    """Write the answer down; `given` is the right value, or the athlete the rows belong to."""
    viewer, targets = signin.viewer(), [asked.target] if asked.target else list(asked.held_ids)
    if action == "correct":
        steward_actions.correct(viewer, asked.held_ids[0], given or "", signed)
    else:
        steward_actions.answer(viewer, targets, action, given if action == "assign" else None, signed)
    return [f"Written down: {ANSWERS[action].lower()} ({asked.title.lower()})."]


def imports_table(lines: Sequence[ImportLine]) -> None:
    """Every file and what became of its rows: the latest, and the earlier ones once their fold is opened."""
    if not lines:
        parts.empty(empties.NO_FILE)
        return
    table = [
        {
            "File": one.file_name,
            "Kind": one.kind,
            "Rows": one.rows,
            "Received": one.received,
            "State": one.state,
            "Id": one.import_id,
        }
        for one in lines
    ]
    parts.table(table[:ROWS], "The latest imported files and what became of their rows")
    if len(table) > ROWS:
        parts.on_opening(
            f"Earlier files: {len(table) - ROWS}",
            "data_earlier",
            lambda: parts.table(table[ROWS:], "Every earlier file and what became of its rows"),
        )


def decisions_table(log: Sequence[Mapping[str, str]]) -> None:
    """The decisions taken, in a fold."""
    if log:
        with st.expander(f"Decisions taken: {len(log)}"):
            parts.table(log, "Decisions with when, who, what and why")


def take_back(labels: Mapping[str, str], seen: int) -> None:
    """Take an answer or a withdrawal back, also one that is built; `labels` names those that can be."""
    if not labels:
        return
    with st.expander("Take an answer back"), st.form("data_undo"):
        st.markdown(
            "Its rows are asked again from the next rebuild. The answer and this step stay on record."
        )
        decision = st.selectbox(
            "Answer or withdrawal",
            list(labels),
            index=None,
            format_func=parts.named(labels),
            placeholder="Pick one, or type a name, a file or a reason",
            key="data_undo_id",
        )
        left, right = st.columns(2)
        who = your_name(left, "data_undo_who")
        why = right.text_input("Why", key="data_undo_why")
        sent = st.form_submit_button("Take it back")
    if not sent:
        return
    if decision is None:
        st.error("Pick the answer to take back.")
        return

    def action() -> list[str]:
        steward_actions.take_back(signin.viewer(), decision, who, why, seen)
        return [f"Taken back: {labels[decision]}. It counts from the next rebuild."]

    do(action)


def withdraw(lines: Sequence[ImportLine]) -> None:
    """Take an import out, after a confirmation."""
    if not lines:
        return
    with st.expander("Withdraw an import"), st.form("data_withdraw"):
        st.markdown(
            "Its rows leave every result at the next rebuild. The file and this decision stay on record."
        )
        labels = {one.import_id: one.label for one in lines}
        import_id = st.selectbox(
            "Import", list(labels), index=None, format_func=parts.named(labels), key="data_withdraw_id"
        )
        left, right = st.columns(2)
        who = your_name(left, "data_withdraw_who")
        why = right.text_input("Why", key="data_withdraw_why")
        sure = st.checkbox("Yes, take all rows of this file out", key="data_withdraw_sure")
        sent = st.form_submit_button("Withdraw")
    if not sent:
        return
    if import_id is None or not sure:
        st.error("Pick the import and tick the box to confirm.")
        return

    def action() -> list[str]:
        steward_actions.take_out(signin.viewer(), import_id, who, why)
        return [f"Withdrawn: {labels[import_id]}. It counts until the next rebuild."]

    do(action)
