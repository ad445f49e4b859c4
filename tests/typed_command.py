"""A command as it is typed, run in this process: a process of its own loads everything anew, for seconds."""

from __future__ import annotations

import io
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from unittest.mock import patch

from latewood.pipeline.cli.start import main


@dataclass(frozen=True)
class Done:
    """What a command wrote, and the code that its process would end with."""

    returncode: int
    stdout: str
    stderr: str


def latewood(*words: object) -> Done:
    """Run `latewood` with these words. A real process is tried in tests/access/test_serving.py."""
    out, err = io.StringIO(), io.StringIO()
    code = 0
    with (
        redirect_stdout(out),
        redirect_stderr(err),
        patch.object(sys, "argv", ["latewood", *map(str, words)]),
    ):
        try:
            main()
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else int(end.code is not None)
    return Done(returncode=code, stdout=out.getvalue(), stderr=err.getvalue())
