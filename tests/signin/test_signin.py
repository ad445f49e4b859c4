"""Through a real OpenID provider in Chromium: who is on the list is in, everybody else and every bad cookie is out."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Mapping
from contextlib import closing

import pytest
from playwright.sync_api import BrowserContext, Page
from streamlit.web.server.starlette.starlette_app_utils import create_signed_value, decode_signed_value

from latewood.pipeline.ingest.logs import audit
from tests.signin.conftest import COOKIE_SECRET, PEOPLE, Served, settle, sign_in

COOKIE = "_streamlit_user"
NAMES = ("Fernmoss", "Siltwood", "Marshreed", "Heath")


def cookie_of(context: BrowserContext) -> dict[str, object]:
    return next(dict(one) for one in context.cookies() if one["name"] == COOKIE)


def claims_of(context: BrowserContext) -> dict[str, object]:
    signed = str(cookie_of(context)["value"]).encode("latin-1")
    return json.loads(decode_signed_value(COOKIE_SECRET, COOKIE, signed) or b"")


def put(context: BrowserContext, value: str) -> None:
    known = cookie_of(context)
    context.add_cookies([{**{key: known[key] for key in ("name", "domain", "path")}, "value": value}])


def resigned(context: BrowserContext, **changed: object) -> None:
    """The same cookie with other claims, signed with the right secret: what only the server itself could make."""
    text = json.dumps({**claims_of(context), **changed})
    put(context, create_signed_value(COOKIE_SECRET, COOKIE, text).decode())


def reloaded(page: Page, url: str) -> str:
    page.goto(url)
    return settle(page)


def is_outside(said: str) -> bool:
    return not any(name in said for name in NAMES)


def test_before_the_sign_in_there_is_nothing_but_a_way_in(visit, served) -> None:
    page = visit.pages[0]
    for path in ("", "cohorts", "athlete?athlete=T1", "plans", "data", "behind?camp=K&measure=exit_speed|x"):
        text = reloaded(page, f"{served.address}/{path}")
        assert "Sign in to see the program's data." in text
        assert is_outside(text)
        assert "Weight plans" not in text


def test_somebody_on_the_list_is_in_and_sees_what_his_role_sees(visit, served) -> None:
    words = settle(sign_in(visit, served.address, "dana"))
    assert "To settle" in words
    assert "Sign out Dana Fen" in words
    assert "A Name Nobody Chose" not in words
    page = visit.pages[0]
    words = reloaded(page, f"{served.address}/athlete?athlete=T1&section=all")
    assert "Arlo Fernmoss" in words
    assert "What coaches saw" not in words
    assert "screen is not one of your role's" in reloaded(page, f"{served.address}/data")
    links = page.get_by_role("link").all_inner_texts()
    assert not any("Data" in text for text in links)


def test_a_coach_of_one_camp_cannot_reach_the_other_by_a_link(visit, served) -> None:
    page = sign_in(visit, served.address, "cole")
    text = reloaded(page, f"{served.address}/athlete?athlete=T2")
    assert "Bram Siltwood" in text
    text = reloaded(page, f"{served.address}/athlete?athlete=T1")
    assert "your role does not cover their camp" in text
    assert "Fernmoss" not in page.content()


def test_a_steward_sees_the_desk_and_no_results(visit, served) -> None:
    page = sign_in(visit, served.address, "stu")
    text = settle(page)
    assert "Held rows" in text
    assert "Sign out Stu Marsh" in text
    text = reloaded(page, f"{served.address}/athlete?athlete=T1")
    assert "screen is not one of your role's" in text
    assert "Fernmoss" not in page.content()


def events(served: Served, event: str, who: str) -> list[Mapping[str, object]]:
    return [
        dict(line.details) for line in audit.lines(served.root) if line.event == event and who in line.who
    ]


@pytest.mark.parametrize(
    ("who", "email", "said"),
    [
        ("nobody", "nobody@example.org", "This account is not in the program's list of people"),
        ("unproven", "dana@example.org", "Your provider has not checked this e-mail address"),
    ],
)
def test_whoever_is_not_on_the_list_is_out_and_it_is_noted_once(visit, served, who, email, said) -> None:
    page = sign_in(visit, served.address, who)
    for _ in range(2):
        observed = settle(page)
        assert said in observed
        assert is_outside(observed)
        page.reload()
    noted = [one for one in events(served, "refused", email) if said[1:30] in str(one["reason"])]
    assert len(noted) == 1


def test_a_sign_in_is_noted_once_with_its_roles(visit, served) -> None:
    before = len(events(served, "sign-in", "stu@example.org"))
    page = sign_in(visit, served.address, "stu")
    page.reload()
    settle(page)
    result = events(served, "sign-in", "Stu Marsh <stu@example.org>")
    assert len(result) == before + 1
    assert result[-1] == {"roles": "data_steward"}
    assert audit.check(served.root).whole


def test_an_edited_cookie_is_out(visit, served) -> None:
    page = sign_in(visit, served.address, "cole")
    value = str(cookie_of(visit)["value"])
    at = len(value) // 3
    put(visit, value[:at] + ("A" if value[at] != "A" else "B") + value[at + 1 :])
    text = reloaded(page, f"{served.address}/athlete?athlete=T2")
    assert "Sign in to see the program's data." in text
    assert is_outside(text)


def test_a_cookie_signed_with_another_secret_is_out(visit, served) -> None:
    page = sign_in(visit, served.address, "cole")
    text = json.dumps({**claims_of(visit), "email": "dana@example.org"})
    put(visit, create_signed_value("another-secret-that-the-server-does-not-hold", COOKIE, text).decode())
    assert is_outside(reloaded(page, f"{served.address}/"))


@pytest.mark.parametrize(("hours", "inside"), [(11.5, True), (12.1, False), (24 * 20, False)])
def test_a_sign_in_lasts_twelve_hours_whatever_the_cookie(visit, served, hours, inside) -> None:
    page = sign_in(visit, served.address, "dana")
    resigned(visit, iat=int(time.time() - hours * 3600))
    text = reloaded(page, f"{served.address}/athlete?athlete=T1")
    assert ("Arlo Fernmoss" in text) == inside
    assert ("Your sign-in has expired" in text) != inside
    assert inside or is_outside(text)


def test_a_cookie_made_for_another_address_is_out(visit, served) -> None:
    page = sign_in(visit, served.address, "dana")
    resigned(visit, origin="https://elsewhere.example.org")
    assert is_outside(reloaded(page, f"{served.address}/"))


def test_sign_out_ends_the_sign_in_even_for_a_copy_of_the_cookie(visit, served) -> None:
    page = sign_in(visit, served.address, "dana")
    kept = cookie_of(visit)
    page.get_by_role("button", name="Sign out Dana Fen").click()
    page.get_by_role("button", name="End session").click(timeout=60_000)  # the provider's own page
    page.wait_for_url(f"{served.address}/**", timeout=60_000)
    assert "Sign in to see the program's data." in settle(page)
    assert not [one for one in visit.cookies() if one["name"].startswith(COOKIE)]
    visit.add_cookies([kept])
    text = reloaded(page, f"{served.address}/athlete?athlete=T1")
    assert "You have signed out" in text
    assert is_outside(text)
    assert events(served, "sign-out", "Dana Fen <dana@example.org>") == [{}]


def test_whoever_is_taken_off_the_list_is_out_at_the_next_click(visit, served) -> None:
    page = sign_in(visit, served.address, "cole")
    people = served.root / "people.toml"
    people.write_text(PEOPLE.replace("cole@example.org", "cora@example.org"), encoding="utf-8")
    try:
        page.get_by_text("Metric", exact=True).click()
        page.get_by_text("This account is not in the program's list").wait_for(timeout=60_000)
        assert is_outside(settle(page))
    finally:
        people.write_text(PEOPLE, encoding="utf-8")


def test_the_cookie_is_out_of_reach_of_scripts_and_of_other_sites(visit, served) -> None:
    sign_in(visit, served.address, "dana")
    cookie = cookie_of(visit)
    assert cookie["httpOnly"] is True
    assert cookie["sameSite"] == "Lax"
    tokens = [str(one["value"]) for one in visit.cookies() if "tokens" in one["name"]]
    assert tokens
    page = visit.pages[0]
    assert tokens[0][:40] not in page.content()


@pytest.mark.parametrize(
    "path", ["_stcore/agent/interact", "_stcore/agent/mcp", "_stcore/agent/openapi.json"]
)
def test_the_interface_for_programs_is_off(visit, served, path) -> None:
    answer: Callable = visit.request.post if path != "_stcore/agent/openapi.json" else visit.request.get
    response = answer(f"{served.address}/{path}")
    assert not any(name in response.text() for name in NAMES)
    assert response.status >= 400 or "enableAgentApi" in response.text()


def test_a_cookie_planted_before_the_sign_in_is_not_the_one_after_it(visit, served, machine_browser) -> None:
    host = {"domain": "127.0.0.1", "path": "/"}
    planted = create_signed_value("another-secret-0123456789-0123456789", COOKIE, "{}").decode()
    visit.add_cookies([{"name": COOKIE, "value": planted, **host}])
    assert is_outside(reloaded(visit.pages[0], f"{served.address}/"))
    sign_in(visit, served.address, "dana")
    assert cookie_of(visit)["value"] != planted
    with closing(machine_browser.new_context()) as other:
        other.add_cookies([{"name": COOKIE, "value": planted, **host}])
        assert is_outside(reloaded(other.new_page(), f"{served.address}/athlete?athlete=T1"))


def test_signed_out_in_one_tab_is_signed_out_in_the_other(visit, served) -> None:
    page = sign_in(visit, served.address, "dana")
    other = visit.new_page()
    assert "Arlo Fernmoss" in reloaded(other, f"{served.address}/athlete?athlete=T1")
    page.get_by_role("button", name="Sign out Dana Fen").click()
    page.get_by_role("button", name="End session").click(timeout=60_000)
    page.wait_for_url(f"{served.address}/**", timeout=60_000)
    settle(page)
    other.get_by_text("Metric", exact=True).click()
    other.get_by_text("signed out").first.wait_for(timeout=60_000)
    assert is_outside(settle(other))


@pytest.mark.parametrize(
    "path",
    ["media/sheet.pdf", "media/%2e%2e/people.toml", "app/static/people.toml", "static/%2e%2e/%2e%2e/people.toml",
     "landing/audit.jsonl", "trials/camp=K/part-0.parquet", "_stcore/upload_file/x/y"],
)  # fmt: skip
def test_no_file_of_the_folder_has_an_address(visit, served, path) -> None:
    response = visit.request.get(f"{served.address}/{path}")
    text = response.body().decode("utf-8", errors="replace")
    assert not any(word in text for word in (*NAMES, "example.org", "PAR1"))
    assert (
        response.status >= 400 or "<!doctype html>" in text.lower()
    )  # the empty page that asks for a sign-in
