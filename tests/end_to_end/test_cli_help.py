"""What a steward types: each command's help shows an example that the command understands; completion and version."""

from __future__ import annotations

import shlex
from collections.abc import Iterator

import click
import pytest
from typer.main import get_command
from typer.testing import CliRunner

from latewood.pipeline.cli.main import app

APP = get_command(app)


def commands(
    group: click.Command = APP, before: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    for name, command in getattr(group, "commands", {}).items():
        if hasattr(command, "commands"):
            yield from commands(command, (*before, name))
        else:
            yield (*before, name), command


ALL = list(commands())


@pytest.mark.parametrize(("name", "command"), ALL, ids=[" ".join(n) for n, _ in ALL])
def test_the_example_of_a_command_is_one_it_understands(
    name: tuple[str, ...], command: click.Command
) -> None:
    assert command.epilog, "no example"
    assert command.epilog.startswith("Example: latewood ")
    words = shlex.split(command.epilog.removeprefix("Example: "))
    assert tuple(words[1 : 1 + len(name)]) == name
    # resilient: callbacks that touch a data folder stay out; what is unknown or missing still raises below
    parser = command.make_parser(click.Context(command))
    given, rest, _ = parser.parse_args(words[1 + len(name) :])
    assert not rest
    missing = [p.name for p in command.params if p.required and given.get(p.name) in (None, ())]
    assert not missing


def test_help_shows_the_example() -> None:
    shown = CliRunner().invoke(app, ["held", "--help"], env={"COLUMNS": "200"})
    assert "Example: latewood held" in shown.output


def test_the_version_is_an_option_too() -> None:
    assert CliRunner().invoke(app, ["--version"]).output == "latewood 0.1.0\n"
    assert "--version" in CliRunner().invoke(app, ["--help"]).output


def test_the_shell_completes_commands() -> None:
    env = {"_LATEWOOD_COMPLETE": "complete_bash", "COMP_WORDS": "latewood sta", "COMP_CWORD": "1"}
    assert CliRunner().invoke(app, [], env=env, prog_name="latewood").output.split() == ["status"]
    assert "--show-completion" in CliRunner().invoke(app, ["--help"]).output
