"""Public functions of the statistics say the shapes of their arrays and the errors they raise."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
ARRAY = re.compile(r"\b(?:NDArray|ArrayLike|ndarray|Floats|Ints|Flags|Mask|Positions)\b")
SHAPE = re.compile(
    r"\((?:\.\.\.|\w[\w+ ]*),[^()\n]{0,60}\)|\(\.\.\.\)|\(q\(q\+1\)/2,\)|broadcast shape|any shape"
)
RAISES = re.compile(r"\braises?\b", re.IGNORECASE)
Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Code:
    """Functions of the statistics by module and name, methods as Class.method, and what each module imports."""

    functions: dict[Key, ast.FunctionDef] = field(default_factory=dict)
    imported: dict[str, dict[str, Key]] = field(default_factory=dict)

    def public(self) -> Iterator[tuple[Key, ast.FunctionDef]]:
        """Functions and methods that no leading underscore hides."""
        for key, function in self.functions.items():
            if not any(part.startswith("_") for part in key[1].split(".")):
                yield key, function


@cache
def _code() -> Code:
    code = Code()
    for path in sorted((ROOT / "pipeline" / "stats").rglob("*.py")):
        module = "latewood." + ".".join(path.relative_to(ROOT).with_suffix("").parts)
        tree = ast.parse(path.read_text(encoding="utf-8"))
        code.imported[module] = {
            alias.asname or alias.name: (node.module, alias.name)
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom) and node.module
            for alias in node.names
        }
        for prefix, body in [
            ("", tree.body),
            *((f"{c.name}.", c.body) for c in tree.body if isinstance(c, ast.ClassDef)),
        ]:
            code.functions.update({
                (module, prefix + f.name): f for f in body if isinstance(f, ast.FunctionDef)
            })
    return code


def _takes_arrays(function: ast.FunctionDef) -> bool:
    given = function.args
    hints = [a.annotation for a in (*given.posonlyargs, *given.args, *given.kwonlyargs)] + [function.returns]
    return any(hint is not None and ARRAY.search(ast.unparse(hint)) for hint in hints)


def _callee(code: Code, module: str, call: ast.Call) -> Key | None:
    name = call.func
    if isinstance(name, ast.Name):
        key = (module, name.id) if (module, name.id) in code.functions else code.imported[module].get(name.id)
        return key if key in code.functions else None
    if isinstance(name, ast.Attribute) and isinstance(name.value, ast.Name):
        package, part = code.imported[module].get(name.value.id, ("", ""))
        key = (f"{package}.{part}", name.attr)
        return key if key in code.functions else None
    return None


def _raises(code: Code, key: Key, seen: frozenset[Key] = frozenset()) -> bool:
    """Whether an error leaves the function, its own or that of a function of the statistics it calls."""
    return any(_node_raises(code, key, node, seen | {key}) for node in code.functions[key].body)


def _node_raises(code: Code, key: Key, node: ast.AST, seen: frozenset[Key]) -> bool:
    if isinstance(node, ast.Raise):
        return node.exc is not None
    if isinstance(node, ast.Call):
        called = _callee(code, key[0], node)
        if called and called not in seen and _raises(code, called, seen):
            return True
    if isinstance(node, ast.Try) and node.handlers:  # what is raised in its body is caught
        rest = [*node.handlers, *node.orelse, *node.finalbody]
        return any(_node_raises(code, key, part, seen) for part in rest)
    return any(_node_raises(code, key, part, seen) for part in ast.iter_child_nodes(node))


def _doc(function: ast.FunctionDef) -> str:
    return ast.get_docstring(function) or ""


def test_functions_of_arrays_state_their_shapes() -> None:
    arrays = [(key, f) for key, f in _code().public() if _takes_arrays(f)]
    assert len(arrays) > 100
    assert [key for key, f in arrays if not SHAPE.search(_doc(f))] == []


def test_functions_that_raise_say_so() -> None:
    code = _code()
    raising = [(key, f) for key, f in code.public() if _raises(code, key)]
    assert len(raising) > 40
    assert [key for key, f in raising if not RAISES.search(_doc(f))] == []
