"""What a screen loads once is left out of the search for garbage that the server makes after every run."""

from __future__ import annotations

import gc

_SEEN: set[str] = set()


def keep_loaded(screen: str) -> bool:
    """Freeze what is loaded after a screen's first run in this process; whether it was the first.

    Libraries and cached results are some 200,000 objects, and going through them takes .14 s of processor after
    each run, for everybody who waits. What is frozen is never looked through again, so it is done once a screen.
    """
    if screen in _SEEN:
        return False
    _SEEN.add(screen)
    gc.collect()
    gc.freeze()
    return True
