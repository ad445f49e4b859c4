"""Glossary: every term of the screens in one sentence, and how each measure is taken."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard.charts.card import fact_list
from latewood.dashboard.screens import parts
from latewood.dashboard.text import glossary
from latewood.dashboard.text import how_sure as sure
from latewood.dashboard.text.wording import FAMILIES, verbatim
from latewood.dashboard.views.glossary.words import Pair, build_measures, matching
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.program import data_dir, program_catalogue

WHERE = (
    "The same sentences stand where the terms do: rest the pointer on the mark beside a heading, or tap it."
)

FIRST = 15  # terms drawn at once; the others are in a fold, and a search finds any


def render() -> None:
    """Draw the screen."""
    st.header("Glossary", anchor=False)
    parts.words(WHERE)
    requested = st.text_input("Find", key="glossary_find", placeholder="Part of a word")
    plain, exact = (_terms(requested, exact=one) for one in (False, True))
    terms = (*plain, *exact)
    st.subheader("Terms", anchor=False)
    _list(terms[:FIRST])
    if len(terms) > FIRST:
        with st.expander(f"More terms, from {verbatim(terms[FIRST][0])} on: {len(terms) - FIRST}"):
            _list(terms[FIRST:])
    _sureness(requested)
    with st.expander("What this cannot tell you"):
        st.markdown(sure.limits())
    st.subheader("How each measure is taken", anchor=False)
    try:
        measures = build_measures(program_catalogue(data_dir()))
    except LatewoodError as error:
        st.error(verbatim(str(error)))
        return
    for family, label in FAMILIES.items():
        result = matching(measures.get(family, ()), requested)
        if result:
            with st.expander(verbatim(label), expanded=bool(requested)):
                _list(result)


def _terms(asked: str, *, exact: bool) -> tuple[Pair, ...]:
    return matching(((term.name, term.sentence) for term in glossary.TERMS if term.exact is exact), asked)


def _sureness(asked: str) -> None:
    """How sure each kind of number is; the one the address asks for with its whole method."""
    st.subheader("How sure each number is", anchor=False)
    kinds = matching(((kind.name, kind.line) for kind in sure.KINDS), asked)
    with st.expander(f"Each kind of number in one sentence: {len(kinds)}", expanded=bool(asked)):
        _list(kinds)
    opened = st.query_params.get("sure", "")
    names = {kind.key: kind.name for kind in sure.KINDS}
    key = parts.pick("How it is worked out", list(names), opened, parts.named(names), key="glossary_sure")
    if key is not None:
        with st.container(border=True):
            st.markdown(sure.methods_section(sure.BY_KEY[key].section))


def _list(pairs: tuple[Pair, ...]) -> None:
    if pairs:
        st.html(f'<div class="lw-glossary">{fact_list(pairs)}</div>')
    else:
        parts.empty("No term holds these letters.")


if __name__ == "__main__":
    render()
