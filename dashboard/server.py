"""Streamlit with the first screen loaded before it listens, so that nobody waits for libraries in front of a page.

`python -m latewood.dashboard.server run FILE …` is `streamlit run FILE …`.
"""

from __future__ import annotations

import gc
import inspect
from importlib import import_module

# What app.py imports and the screen at "/"; each brings in the libraries that it needs.
FIRST = (
    "latewood.dashboard.heap",
    "latewood.dashboard.screens.find",
    "latewood.dashboard.screens.monday.monday",
)


def main() -> None:
    """Load, then let Streamlit serve what the command line says."""
    gc.disable()  # nothing that is loaded becomes garbage
    serve = import_module("streamlit.web.cli").main
    for name in FIRST:
        import_module(name)
    inspect.stack()  # the first element asks for it, and at the first time it looks through every module's file
    gc.freeze()
    gc.enable()
    serve(prog_name="streamlit")


if __name__ == "__main__":
    main()
