"""How sure a number is stands under its heading, and its link opens the whole method in the glossary."""

from __future__ import annotations

import re

from streamlit.testing.v1 import AppTest

from latewood.dashboard.text import how_sure


def folds(page: AppTest) -> str:
    bodies = [one.proto.body for one in page.get("html") if "How sure is this?" in one.proto.body]
    return " ".join(bodies)


def test_the_athlete_page_says_how_sure_a_change_is(one_root, open_screen) -> None:
    page = open_screen(one_root, "athlete", athlete="T1", section="all")
    assert not page.exception
    words = folds(page)
    assert how_sure.BY_KEY["change"].line in re.sub("<[^>]+>", "", words)
    assert 'href="glossary?sure=change"' in words


def test_the_plan_board_says_how_sure_an_alarm_is(one_root, open_screen) -> None:
    assert how_sure.BY_KEY["alarm"].line in re.sub("<[^>]+>", "", folds(open_screen(one_root, "plans")))


def test_the_link_opens_the_whole_section_of_the_methods(one_root, open_screen) -> None:
    page = open_screen(one_root, "glossary", sure="camps_link")
    assert not page.exception
    words = [one.value for one in page.markdown if one.value.startswith("## 15. ")]
    assert len(words) == 1 and "Paule, Mandel" in words[0]
    plain = open_screen(one_root, "glossary")
    assert not any(one.value.startswith("## ") for one in plain.markdown)


def test_the_glossary_lists_terms_of_exact_statements_after_all_others(one_root, open_screen) -> None:
    lists = [
        one.proto.body
        for one in open_screen(one_root, "glossary").get("html")
        if "lw-glossary" in one.proto.body
    ]
    first, more = lists[:2]
    exact = ("CRPS", "Effective n", "Agreement of raters", "Shrunk estimate")
    assert not any(name in first for name in exact)
    assert all(more.index("Withdraw") < more.index(name) for name in exact)
