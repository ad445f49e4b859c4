"""The library that sets pages as PDF: an extra of the installation, so that who prints nothing goes without."""

from __future__ import annotations

from importlib import import_module
from types import ModuleType

from latewood.pipeline.errors import SummaryError


def printer() -> ModuleType:
    """The library typst. Raises SummaryError where it is not installed."""
    try:
        return import_module("typst")
    except ImportError as error:
        raise SummaryError(
            "pdf: typst, which prints pages, is not installed; install the project with [print], or ask for another "
            "form"
        ) from error
