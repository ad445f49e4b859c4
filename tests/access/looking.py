"""What an opened screen holds, whoever asks."""

from __future__ import annotations

from collections.abc import Callable

from streamlit.testing.v1 import AppTest

NAMES = ("Fernmoss", "Siltwood", "Marshreed")
Open = Callable[..., AppTest]


def everything(page: AppTest) -> str:
    """All that was sent to the browser, whatever the element."""
    assert not page.exception
    unread = ("html", "page_link", "vega_lite_chart")  # kinds whose text the tester does not show by itself
    return (
        str(page.main)
        + str(page.sidebar)
        + " ".join(str(one.proto) for kind in unread for one in page.get(kind))
    )
