"""The door: who looks, through Streamlit's own sign-in, or the person at this machine where none is configured."""

from __future__ import annotations

import logging
import time
from collections.abc import Mapping
from dataclasses import replace

import streamlit as st

from latewood.dashboard.text.wording import verbatim
from latewood.pipeline.access import AT_THE_MACHINE, ROLES, Viewer
from latewood.pipeline.cli import serving
from latewood.pipeline.errors import LatewoodError, SignInError
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.ingest.people import sign_out
from latewood.pipeline.ingest.people.staff import admit, load_staff
from latewood.pipeline.ingest.program import data_dir

CLOSED = "these screens are served to other machines without a sign-in; start them with `latewood serve`"
NOT_YET = "sign in to see the program's data"
WRONG_LIST = "nobody can be let in just now; the person who runs this program finds the reason in its log"
PREVIEW = "app_role"
LONGEST_NOTE = 200
_LOG = logging.getLogger(__name__)
_noted: set[tuple[str, ...]] = set()  # what stands in the audit log already; one process serves all sessions


def viewer() -> Viewer:
    """The person who looks, asked anew at every run: who was taken off the list is out at the next click.

    Raises SignInError where nobody may look, StaffError where people.toml is wrong.
    """
    if not _sign_in_is_on():
        if not _at_the_machine():
            raise SignInError(CLOSED)
        role = st.session_state.get(PREVIEW)
        result = AT_THE_MACHINE.only(role) if role in ROLES else AT_THE_MACHINE
        return replace(result, again=viewer)
    claims = st.user.to_dict()
    if not claims.get("is_logged_in"):
        raise SignInError(NOT_YET)
    root = data_dir()
    return replace(admit(load_staff(root), claims, time.time(), sign_out.ended(root)), again=viewer)


def _sign_in_is_on() -> bool:
    if st.secrets.load_if_toml_exists() and "auth" in st.secrets:
        return True
    if (data_dir() / serving.SECRETS).exists():
        raise SignInError(CLOSED)
    return False


def _at_the_machine() -> bool:
    """Whether the page is asked for from this machine itself, as far as a server can tell."""
    host, headers = st.context.headers.get("Host"), st.context.headers
    if host is None:  # nothing came over a network
        return True
    if any(name in headers for name in ("Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Real-IP")):
        return False
    name = host if host.startswith("[") else host.partition(":")[0]
    return serving.is_loopback(name) and serving.is_loopback(str(st.get_option("server.address") or ""))


def gate() -> Viewer | None:
    """The viewer, noted in the audit log at the first look; None, with a plain page, where nobody may look."""
    try:
        result = viewer()
        if result.signed_in:
            _note("sign-in", result.signs(""), {"roles": ", ".join(g.role.key for g in result.grants)})
        return result
    except SignInError as error:
        _outside(str(error))
    except LatewoodError as error:
        _LOG.error("sign-in: %s", error)
        _outside(WRONG_LIST)
    return None


def _outside(text: str) -> None:
    """The page of everybody who is not let in: a sentence and a way to sign in or out, and nothing else."""
    st.header("Latewood", anchor=False)
    st.warning(verbatim(f"{text[:1].upper()}{text[1:]}."))
    if text == CLOSED:
        return
    claims = st.user.to_dict()
    if not claims.get("is_logged_in"):
        if st.button("Sign in", type="primary", key="app_sign_in"):
            st.login()
        return
    _note("refused", str(claims.get("email") or "no e-mail"), {"reason": text})
    if st.button("Sign out", key="app_leave"):
        st.logout()


def _note(event: str, who: str, details: Mapping[str, str]) -> None:
    """Write an event once for each sign-in at the provider, however often the page is loaded."""
    claims = st.user.to_dict()
    key = (event, str(claims.get("iss")), str(claims.get("sub")), str(claims.get("iat")), *details.values())
    if key not in _noted:
        audit.append(data_dir(), event, who[:LONGEST_NOTE], dict(details))
        _noted.add(key)


def who_is_in(found: Viewer) -> None:
    """Who looks, with the way out; the person at the machine may look as one role sees it."""
    if not found.signed_in:
        titles = {role.key: role.title.capitalize() for role in ROLES.values()}
        st.selectbox(
            "Seen as",
            ["", *titles],
            format_func=lambda key: titles.get(key, "Every role"),
            key=PREVIEW,
            label_visibility="collapsed",
            width=190,
        )
        return
    if st.button(f"Sign out {verbatim(found.name)}", key="app_sign_out"):
        claims = st.user.to_dict()
        sign_out.end(data_dir(), found.email, float(str(claims["iat"])))
        audit.append(data_dir(), "sign-out", found.signs(""), {})
        st.logout()
