"""Commands whose modules are loaded when they are called: none waits for what only another needs."""

from __future__ import annotations

import ast
import inspect
from collections.abc import Iterator, Mapping
from importlib import import_module
from importlib.resources import files
from typing import TYPE_CHECKING

import typer
from typer.core import TyperCommand, TyperGroup
from typer.main import get_group

from latewood.pipeline.cli.commands import COMMANDS, Verb

if TYPE_CHECKING:
    from typer._click import Command, Context

HERE = "latewood.pipeline.cli"


def loaded(name: str) -> Command:
    """The command of a name with its module loaded, and below its help the example."""
    entry = COMMANDS[name]
    module, _, attribute = entry.at.partition(".")
    target = getattr(import_module(f"{HERE}.{module}"), attribute)
    app = typer.Typer()
    if isinstance(entry, Verb):
        app.command(name, epilog=_epilog(entry.example))(target)
    else:
        for command in target.registered_commands:
            command.epilog = _epilog(entry.examples.get(command.name, ""))
        app.add_typer(target, name=name, help=entry.help)
    return get_group(app).commands[name]


def _epilog(example: str) -> str | None:
    return f"Example: {example}" if example else None


def help_of(name: str) -> str:
    """What a command does, read from its text: nothing is loaded."""
    entry = COMMANDS[name]
    if not isinstance(entry, Verb):
        return entry.help
    module, _, function = entry.at.partition(".")
    tree = ast.parse((files(HERE) / f"{module}.py").read_text(encoding="utf-8"))
    found = (one for one in tree.body if isinstance(one, ast.FunctionDef) and one.name == function)
    return inspect.cleandoc(ast.get_docstring(next(found)) or "")


class _Commands(Mapping[str, "Command"]):
    """Every command by its name; a look into it loads."""

    def __init__(self) -> None:
        self._kept: dict[str, Command] = {}

    def __getitem__(self, name: str) -> Command:
        if name not in COMMANDS:
            raise KeyError(name)
        if name not in self._kept:
            self._kept[name] = loaded(name)
        return self._kept[name]

    def __iter__(self) -> Iterator[str]:
        return iter(COMMANDS)

    def __len__(self) -> int:
        return len(COMMANDS)


class LazyGroup(TyperGroup):
    """The commands of COMMANDS: lists and help come from their text, the one that is called is loaded."""

    def __init__(self, **settings: object) -> None:
        super().__init__(**settings)  # type: ignore[arg-type]
        self.commands = _Commands()  # type: ignore[assignment]  # nothing is added to it

    def list_commands(self, ctx: Context) -> list[str]:
        """The names, in the order of the help."""
        return list(COMMANDS)

    def get_command(self, ctx: Context, cmd_name: str) -> TyperCommand | None:
        """What lists and completion need of a command: its name and its help."""
        return TyperCommand(name=cmd_name, help=help_of(cmd_name)) if cmd_name in COMMANDS else None

    def resolve_command(self, ctx: Context, args: list[str]) -> tuple[str | None, Command | None, list[str]]:
        """The command that is called, loaded, with its arguments."""
        name, command, rest = super().resolve_command(ctx, args)
        return name, self.commands[name] if name and name in COMMANDS else command, rest
