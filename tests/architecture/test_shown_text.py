"""Only our own words may be Markdown or HTML: everything else goes through `verbatim` or `safe` where it is drawn."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = sorted((ROOT / "dashboard").rglob("*.py"))
# Everything of Streamlit that reads Markdown in its first argument or in one of these named ones.
DRAWS = {
    *(
        "markdown",
        "caption",
        "header",
        "subheader",
        "info",
        "warning",
        "error",
        "success",
        "exception",
        "toast",
    ),
    *("button", "download_button", "link_button", "page_link", "form_submit_button", "expander", "popover"),
    *(
        "status",
        "spinner",
        "tabs",
        "radio",
        "checkbox",
        "toggle",
        "selectbox",
        "multiselect",
        "segmented_control",
    ),
    *(
        "pills",
        "slider",
        "select_slider",
        "text_input",
        "text_area",
        "number_input",
        "date_input",
        "time_input",
    ),
    *("file_uploader", "camera_input", "color_picker", "metric", "badge", "image", "dialog", "data_editor"),
    *(
        "login",
        "chat_input",
        "feedback",
        "menu_button",
        "json",
        "chat_message",
        "audio_input",
        "write_stream",
    ),
}
NAMED = {"label", "help", "caption", "body", "text", "title", "delta", "captions", "description"}
# Wrappers that hand their text on as it is: their callers are looked at instead.
WRAPPERS = {
    "open_screen": "title",
    "section": "title",
    "empty": "text",
    "refused": "text",
    "on_opening": "label",
    "folded": "label",
    "pick": "label",
}
# `st.page_link(page, label=…)` and `st.image(image, caption=…)`: the first argument is no text.
NO_TEXT_FIRST = {"page_link", "image"}
ESCAPES = {"verbatim", "field_label"}
OURS = {"len", "help_of", "methods_section", "limits"}  # numbers, and texts that come with the program
NOBODY = {"write", "table", "dataframe", "data_editor", "exception"}  # st.table is for parts.table alone


def calls(tree: ast.AST) -> Iterator[tuple[ast.FunctionDef | None, ast.Call]]:
    def walk(
        node: ast.AST, function: ast.FunctionDef | None
    ) -> Iterator[tuple[ast.FunctionDef | None, ast.Call]]:
        inside = node if isinstance(node, ast.FunctionDef) else function
        if isinstance(node, ast.Call):
            yield inside, node
        for child in ast.iter_child_nodes(node):
            yield from walk(child, inside)

    return walk(tree, None)


def name_of(call: ast.Call) -> str:
    return call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")


def texts_of(call: ast.Call) -> list[ast.expr]:
    name = name_of(call)
    first = [] if name in NO_TEXT_FIRST else call.args[:1]
    return [*first, *(word.value for word in call.keywords if word.arg in NAMED)]


def is_ours(node: ast.expr | None, function: ast.FunctionDef | None) -> bool:
    """Whether what is drawn can hold nothing but the program's own words, numbers and escaped text."""
    match node:
        case None | ast.Constant():
            return True
        case ast.FormattedValue() if is_number(node):
            return True
        case ast.FormattedValue(value=value) | ast.Subscript(value=value):
            return is_ours(value, function)
        case ast.JoinedStr(values=several) | ast.BoolOp(values=several) | ast.List(elts=several):
            return all(is_ours(one, function) for one in several)
        case ast.IfExp(body=one, orelse=other) | ast.BinOp(left=one, right=other):
            return is_ours(one, function) and is_ours(other, function)
        case ast.Attribute(attr=name):
            return name.isupper()
        case ast.Name(id=name):
            return name.isupper() or is_ours_by_name(name, function)
        case ast.Call():
            return is_ours_by_call(node, function)
    return False


def is_number(node: ast.FormattedValue) -> bool:
    """Whether the format lets nothing but a number through."""
    spec = node.format_spec
    text = spec.values[-1].value if isinstance(spec, ast.JoinedStr) and spec.values else ""
    return str(getattr(text, "value", text))[-1:] in set("dfg,%")


def is_ours_by_name(name: str, function: ast.FunctionDef | None) -> bool:
    if function is None:
        return False
    if WRAPPERS.get(function.name) == name:
        return True
    given = [
        n.value for n in ast.walk(function)
        if isinstance(n, ast.Assign) and any(isinstance(t, ast.Name) and t.id == name for t in n.targets)
    ]  # fmt: skip
    return bool(given) and all(is_ours(one, function) for one in given)


def is_ours_by_call(call: ast.Call, function: ast.FunctionDef | None) -> bool:
    name = name_of(call)
    if name in ESCAPES | OURS:
        return True
    if name == "count_of":
        return is_ours(call.args[1], function)
    if name == "join" and isinstance(call.args[0], ast.GeneratorExp):
        return is_ours(call.args[0].elt, function)
    return False


def drawn(path: Path) -> Iterator[tuple[ast.FunctionDef | None, ast.Call]]:
    for function, call in calls(ast.parse(path.read_text(encoding="utf-8"))):
        is_wrapper = (
            name_of(call) in WRAPPERS
            and path.parent.name == "screens"
            and not (
                isinstance(call.func, ast.Attribute) and getattr(call.func.value, "id", "parts") != "parts"
            )
        )
        if is_wrapper or (name_of(call) in DRAWS and isinstance(call.func, ast.Attribute)):
            yield function, call


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_markdown_is_drawn_of_our_own_words_and_escaped_text_only(path: Path) -> None:
    wrong = [
        f"line {call.lineno}: {ast.unparse(call)[:120]}"
        for function, call in drawn(path)
        if not all(is_ours(one, function) for one in texts_of(call))
    ]
    assert wrong == [], "give it to latewood.dashboard.text.wording.verbatim first"


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_nothing_is_drawn_that_guesses_what_a_text_is(path: Path) -> None:
    used = {
        name_of(call)
        for _, call in calls(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(call.func, ast.Attribute) and getattr(call.func.value, "id", "") == "st"
    }
    assert used & NOBODY <= ({"table"} if path.name == "parts.py" else set())


def fields_in_html(tree: ast.AST) -> Iterator[str]:
    """What stands in a piece of HTML as it came: a field of a row, neither escaped nor a number."""
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr) and any(re.search(r"</?[a-z]", text) for text in literals(node)):
            for part in node.values:
                if isinstance(part, ast.FormattedValue) and isinstance(part.value, ast.Attribute):
                    shown = ast.unparse(part.value)
                    if not (is_number(part) or part.value.attr == "n" or shown.startswith("colours.")):
                        yield f"line {part.lineno}: {shown}"


def literals(node: ast.JoinedStr) -> list[str]:
    return [str(part.value) for part in node.values if isinstance(part, ast.Constant)]


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_field_stands_in_html_as_it_came(path: Path) -> None:
    assert list(fields_in_html(ast.parse(path.read_text(encoding="utf-8")))) == [], "give it to safe first"


@pytest.mark.parametrize(
    "line",
    [
        "st.success(text)", "st.error(str(error))", "st.header(f'Of {camp.label}')", "left.button(names[one])",
        "st.page_link(PLAN, label=card.name)", "parts.empty(view.nothing)", "st.radio('Camp', help=note)",
    ],
)  # fmt: skip
def test_the_rule_sees_text_that_is_not_ours(line: str, tmp_path: Path) -> None:
    path = tmp_path / "screens" / "one.py"
    path.parent.mkdir()
    path.write_text(f"def draw(text, names):\n    {line}\n", encoding="utf-8")
    ((function, call),) = drawn(path)
    assert not all(is_ours(one, function) for one in texts_of(call))
