"""Data: what waits for an answer, what was imported, and the rebuild, for the data steward."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard import signin
from latewood.dashboard.actions import steward_actions
from latewood.dashboard.charts.card import fact_list
from latewood.dashboard.reads import consent_reads, warehouse
from latewood.dashboard.reads.rows import Build
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.data import join_ids, look_desk, own_measure, rebuilding, steward_parts
from latewood.dashboard.text import glossary
from latewood.dashboard.views.data.steward import (
    build_decisions,
    build_desk,
    build_imports,
    build_left_out,
    build_status,
    build_undoable,
    build_unplaced,
    files_waiting,
    holding,
    of_file,
    of_rule,
    rules_waiting,
)

AT_ONCE = 12  # questions listed at once
SEEN = "data_seen"  # how many decisions there were when this page was last drawn for this person


def render() -> None:
    """Draw the screen."""
    st.header("Data", anchor=False, help=glossary.help_of("Data"))
    steward_parts.say_what_was_done()
    build = parts.published_or_none()
    rebuilding.rebuild(build)
    if build is not None:
        _unplaced(build)
        _left_out(build)
        _desk(build)
        st.html(fact_list(build_status(build)))
    st.subheader("Import files", anchor=False)
    steward_parts.upload()
    look_desk.desk()
    own_measure.form()
    if build is not None:
        n = len(warehouse.imports(build))
        parts.on_opening(f"Imported files and answers: {n}", "data_imports", lambda: _imports(build))


def _unplaced(build: Build) -> None:
    """Withdrawals of consent that fit nobody: until somebody settles them a consent stays given that was withdrawn."""
    alarms = build_unplaced(consent_reads.unplaced(build.viewer))
    if alarms:
        parts.caution(*alarms)


def _left_out(build: Build) -> None:
    labels = {row.measure: row.label for row in warehouse.measures(build)}
    for line in build_left_out(warehouse.not_computed(build), labels):
        parts.words(line)


def _desk(build: Build) -> None:
    parts.section("Held rows")
    labels = {row.measure: row.label for row in warehouse.measures(build)}
    names = {row.athlete_id: row.display_name for row in warehouse.athletes(build)}
    log = steward_actions.log(signin.viewer())
    observed = st.session_state.get(SEEN, log.count)
    desk = build_desk(warehouse.held_rows(build), warehouse.imports(build), labels, names)
    parts.words(desk.head)
    if not desk.questions:
        return
    rules = rules_waiting(desk)
    files = files_waiting(desk.questions)
    left, middle, right = st.columns(3)
    with left:
        rule = parts.pick("Show", list(rules), "", parts.named(rules), key="data_rule")
    with middle:
        file = parts.pick("Of", list(files), "", parts.named(files), key="data_file")
    sought = right.text_input("Find an athlete, a file, a measure or a value", key="data_find")
    shown = holding(of_file(of_rule(desk, rule or ""), file or ""), sought)
    if not shown:
        parts.words("No question of this kind and file holds these words.")
    at_once, more = parts.portion(shown, "data_questions", "questions", AT_ONCE)
    one_kind = len({question.rule for question in shown}) == 1
    opened = (
        shown[:1] if one_kind or not sought.strip() else ()
    )  # otherwise the others would be pushed out of view
    for question in at_once:
        steward_parts.question(question, names, log, observed, first=question in opened)
    more()
    st.session_state[SEEN] = log.count


def _imports(build: Build) -> None:
    parts.section("Imported files")
    lines = build_imports(warehouse.imports(build))
    steward_parts.imports_table(lines)
    steward_parts.withdraw([one for one in lines if not one.withdrawn])
    steward_parts.decisions_table(build_decisions(warehouse.decisions(build)))
    log = steward_actions.log(signin.viewer())
    files = {row.import_id: row.file_name for row in warehouse.imports(build)}
    names = {row.athlete_id: row.display_name for row in warehouse.athletes(build)}
    steward_parts.take_back(build_undoable(log.made, files, names), log.count)
    join_ids.form(names, log.count)


if __name__ == "__main__":
    render()
