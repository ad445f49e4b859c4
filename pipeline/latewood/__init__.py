"""What changed between test days at a player-development camp, how sure that is, and what it goes with."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from latewood.pipeline.notebook import Notebook

__all__ = ["open"]


def open(folder: str | Path) -> Notebook:
    """A read-only handle on the published build of a data folder, with its results as pandas frames.

    Raises NotebookError where there is no such folder, NothingPublishedError where nothing was built in it yet, and
    BuildError where the build is damaged or of another version of the tool; all are LatewoodErrors.

    >>> import latewood
    >>> with latewood.open(folder) as camp:
    ...     changes = camp.trends("exit_speed", units="us")
    >>> changes.groupby("camp_id")["change"].mean().round(1).to_dict(), set(changes["unit"])
    ({'K': 3.0, 'L': 3.0}, {'mph'})
    """
    # brought in here, so that a command that reads no frames does not wait for it
    from latewood.pipeline.notebook import open_notebook

    return open_notebook(folder)
