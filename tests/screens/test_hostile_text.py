"""Text of an import, of people and of an address is shown on every screen as it came, and never drawn."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from google.protobuf.message import Message
from streamlit.testing.v1 import AppTest

from latewood.dashboard.charts.drawing import safe
from latewood.dashboard.text.wording import verbatim
from tests.hostile import ATHLETE, CAMP, PLAN, SIGNS, make_hostile
from tests.opening import APP, open_folds
from tests.shared import shared

PLAIN = {  # fields of widgets that a page writes as plain text, or that are no text at all
    *(
        "options",
        "id",
        "value",
        "default",
        "alt",
        "query_string",
        "placeholder",
        "file_name",
        "url",
        "user_key",
    ),
    *("spec", "raw_values", "set_value", "element_id", "form_id", "data", "page", "key", "url_path", "css"),
}
IN_HTML = ("<img src", "<a href='http")
IN_MARKDOWN = ("![p", "](http", "evil.", "www.", "$x", ":smile", ":red[", ":material", "**b", "<img")
SCREENS = {
    "monday": {},
    "cohorts": {},
    "camp_review": {"camp": CAMP},
    "athlete": {"athlete": ATHLETE, "section": "all"},
    "case": {"athlete": ATHLETE},
    "compare": {"athlete": ATHLETE},
    "plans": {},
    "plan": {"plan": PLAN},
    "new_plan": {"athlete": ATHLETE},
    "weighin": {"measure": "exit_speed"},
    "summaries": {"athlete": ATHLETE},
    "data": {},
    "glossary": {},
    "behind": {"camp": CAMP, "measure": "exit_speed|delivery=tee; bat=metal; ball=baseball; device=radar"},
}
PARAMETERS = (
    "athlete",
    "camp",
    "measure",
    "plan",
    "section",
    "sure",
    "view",
)  # every one that a screen asks for


@pytest.fixture(scope="module")
def hostile_root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shared(tmp_path_factory, "hostile", make_hostile)


def texts(message: Message, name: str = "") -> Iterator[tuple[str, str]]:
    """Every text of what a page is told to draw, with the kind of element and the field it stands in."""
    for field, value in message.ListFields():
        if field.name in PLAIN:
            continue
        several = value if field.is_repeated else [value]
        for one in several:
            if isinstance(one, Message):
                yield from texts(one, type(one).__name__)
            elif isinstance(one, str):
                yield f"{name}.{field.name}", one


def drawn(page: AppTest) -> list[tuple[str, str]]:
    result: list[tuple[str, str]] = []
    waiting = [page._tree]
    while waiting:
        node = waiting.pop()
        waiting += list(getattr(node, "children", {}).values())
        proto = getattr(node, "proto", None)
        if isinstance(proto, Message):
            result += list(texts(proto, type(proto).__name__))
    return result


def as_drawn(kind: str, text: str) -> bool:
    """Whether a page would make something of the hostile text in it; a component gets data for its script."""
    if kind == "BidiComponent.json":
        return False
    raw = IN_HTML if kind.startswith("Html") else IN_MARKDOWN
    return any(sign in text.replace(f"\\{sign}", "") for sign in raw)


def test_what_is_looked_for_is_in_the_hostile_text_and_in_none_that_is_escaped() -> None:
    assert all(sign in SIGNS for sign in IN_MARKDOWN)
    assert not as_drawn("Markdown.body", verbatim(SIGNS))
    assert not as_drawn("Html.body", safe(SIGNS))


def test_the_script_of_a_component_makes_nodes_of_text_and_never_of_markup() -> None:
    (script,) = APP.parent.rglob("*.js")
    written = script.read_text(encoding="utf-8")
    markup = (
        "innerHTML",
        "outerHTML",
        "insertAdjacentHTML",
        "document.write",
        "DOMParser",
        "eval(",
        "srcdoc",
    )
    assert [sign for sign in markup if sign in written] == []


@pytest.mark.parametrize("screen", SCREENS)
def test_nothing_of_an_import_or_of_people_is_drawn(screen, hostile_root, open_screen) -> None:
    page = open_folds(open_screen(hostile_root, screen, **SCREENS[screen]))
    assert not page.exception
    result = drawn(page)
    assert [(kind, text[:200]) for kind, text in result if as_drawn(kind, text)] == []
    if screen != "glossary":
        assert any("evil" in text for _, text in result)  # it is there, as it came


@pytest.mark.parametrize("screen", SCREENS)
def test_nothing_of_an_address_is_drawn(screen, hostile_root, open_screen) -> None:
    page = open_screen(hostile_root, screen, **dict.fromkeys(PARAMETERS, SIGNS))
    assert not page.exception
    assert [(kind, text[:200]) for kind, text in drawn(page) if as_drawn(kind, text)] == []


def test_every_parameter_that_a_screen_asks_for_is_tried() -> None:
    sources = "".join(path.read_text(encoding="utf-8") for path in (APP.parent).rglob("*.py"))
    assert set(re.findall(r'query_params(?:\.get\(|\[)"(\w+)"', sources)) == set(PARAMETERS)


def test_an_unknown_plan_of_an_address_is_named_as_it_came(hostile_root, open_screen) -> None:
    page = open_screen(hostile_root, "plan", plan=SIGNS)
    assert verbatim(SIGNS) in page.warning[0].value
