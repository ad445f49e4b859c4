"""The desk for files that no mapping was written for: see what each seems to be, answer, accept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import streamlit as st

from latewood.dashboard import signin
from latewood.dashboard.actions import look_actions
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.data import own_measure
from latewood.dashboard.text.wording import field_label, verbatim
from latewood.dashboard.views.data.look import column_rows, columns_title, remarks, sample_rows, title
from latewood.dashboard.views.data.own_measure import unknown_columns
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.look.accept import Looked
from latewood.pipeline.ingest.look.proposal import FileQuestion, Proposal

FILES, WHO, ANSWERS, ROUND = "look_files", "look_who", "look_answers", "look_round"


def put(files: Sequence[tuple[str, bytes]], who: str) -> None:
    """Lay files on the desk; they are looked at until they are taken or put away."""
    st.session_state.update({FILES: list(files), WHO: who, ANSWERS: {}})
    st.session_state[ROUND] = st.session_state.get(ROUND, 0) + 1


def desk() -> None:
    """The files on the desk, with their questions; nothing where there is none."""
    files = st.session_state.get(FILES)
    if not files:
        return
    st.subheader("Look before taking", anchor=False)
    looks = look_actions.look(signin.viewer(), files, st.session_state[ANSWERS])
    labels = look_actions.labels(signin.viewer())
    drawn: set[str] = set()  # a question of several tables of one file is asked once
    for looked in looks:
        for proposal in looked.proposals:
            _proposal(proposal, labels, drawn)
    _buttons(looks)


def _proposal(proposal: Proposal, labels: Mapping[str, str], drawn: set[str]) -> None:
    if proposal.problem:
        for line in remarks(proposal):
            parts.words(line, "lw-small")
        st.error(verbatim(proposal.problem))
        _offer_own(proposal, drawn)
        return
    with st.container(border=True):
        parts.words(title(proposal))
        for question in proposal.questions:
            name = f"{proposal.file_name} > {question.key}"
            if name not in drawn:
                drawn.add(name)
                _question(name, question)
        if proposal.samples:
            parts.table(sample_rows(proposal), "The first values as they would be stored")
        for line in remarks(proposal):
            parts.words(line, "lw-small")
        if proposal.columns:
            with st.expander(field_label(columns_title(proposal))):
                parts.table(column_rows(proposal, labels), "What each column is taken for, and why")
        _offer_own(proposal, drawn)


def _offer_own(proposal: Proposal, drawn: set[str]) -> None:
    """A button for each column of numbers that no measure is known for."""
    for header in unknown_columns(proposal):
        key = f"look_own_{proposal.file_name}_{proposal.sheet}_{header}"
        if key in drawn:
            continue
        drawn.add(key)
        st.button(
            f"{field_label(header)}: add it as a measure of our own",
            key=key,
            on_click=own_measure.begin,
            args=(header,),
        )


def _question(name: str, question: FileQuestion) -> None:
    key = f"look_{st.session_state[ROUND]}_{name}"

    def answer() -> None:
        st.session_state[ANSWERS] = {**st.session_state[ANSWERS], name: st.session_state[key] or ""}

    if not question.choices:
        st.text_input(field_label(question.text), key=key, placeholder="2032-06-14", on_change=answer)
        return
    given = question.answer or ("" if question.needed else question.proposed)
    st.selectbox(
        field_label(question.text),
        question.choices,
        index=question.choices.index(given) if given else None,
        placeholder=f"Proposed: {question.proposed}" if question.proposed else "Not answered",
        key=key,
        on_change=answer,
    )


def _buttons(looks: Sequence[Looked]) -> None:
    proposed = {
        f"{p.file_name} > {q.key}": q.proposed
        for looked in looks
        for p in looked.proposals
        for q in p.open
        if q.proposed
    }
    left, middle, right = st.columns(3)
    if left.button("Take the settled files", type="primary", key="look_take"):
        _take(looks)
    if proposed and middle.button(f"Answer {len(proposed)} as proposed", key="look_proposed"):
        st.session_state[ANSWERS] = {**st.session_state[ANSWERS], **proposed}
        st.session_state[ROUND] += 1
        st.rerun()
    if right.button("Put them away", key="look_away"):
        st.session_state[FILES] = []
        st.rerun()


def _take(looks: Sequence[Looked]) -> None:
    ready = [one for one in looks if one.ready]
    if not ready:
        st.error("No file is settled yet: answer the open questions first.")
        return
    try:
        with st.spinner("Taking the files. The published results stay readable meanwhile."):
            lines = look_actions.take(signin.viewer(), ready, st.session_state[WHO])
    except LatewoodError as error:
        st.error(verbatim(str(error)))
        return
    done = {one.name for one in ready}
    st.session_state[FILES] = [one for one in st.session_state[FILES] if one[0] not in done]
    st.session_state["data_done"] = lines
    st.rerun()
