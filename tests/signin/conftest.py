"""A real OpenID provider and `latewood serve` behind it, each in a process of its own, and Chromium."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route

from tests.chromium import mark_browser_tests
from tests.looks import empty
from tests.tools.shots import free_port

ROOT = Path(__file__).parents[2]
COOKIE_SECRET = "only-for-this-test-and-nowhere-else-0123456789"
PEOPLE = """
[[people]]
email = "dana@example.org"
name = "Dana Fen"
roles = ["director"]

[[people]]
email = "cole@example.org"
name = "Cole Reed"
roles = [{role = "performance_coach", camps = ["L"]}]

[[people]]
email = "stu@example.org"
name = "Stu Marsh"
roles = ["data_steward"]
"""
USERS = {"dana": True, "cole": True, "stu": True, "nobody": True, "unproven": False}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    mark_browser_tests(items, Path(__file__).parent)


@dataclass(frozen=True)
class Served:
    """Where the screens are and the data folder behind them."""

    address: str
    root: Path


def wait_for(address: str, process: subprocess.Popen[bytes], seconds: float = 90.0) -> None:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        assert process.poll() is None, f"the process behind {address} has ended"
        try:
            with urllib.request.urlopen(address, timeout=2):
                return
        except OSError:
            time.sleep(0.2)
    raise TimeoutError(address)


@contextmanager
def running(command: list[str], health: str, **more: str) -> Iterator[None]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), **more}
    process = subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        wait_for(health, process)
        yield
    finally:
        process.terminate()
        process.wait(timeout=20)


@pytest.fixture(scope="session")
def provider() -> Iterator[str]:
    """An OpenID provider on this machine that lets its visitor say who they are."""
    port = free_port()
    command = [sys.executable, "-m", "oidc_provider_mock", "--port", str(port)]
    for name, checked in USERS.items():
        email = "dana@example.org" if name == "unproven" else f"{name}@example.org"
        claims = {"sub": name, "email": email, "email_verified": checked, "name": "A Name Nobody Chose"}
        command += ["--user-claims", json.dumps(claims)]
    address = f"http://127.0.0.1:{port}"
    with running(command, f"{address}/.well-known/openid-configuration", NO_COLOR="1"):
        yield address


def write_sign_in(root: Path, provider: str, address: str) -> None:
    """The people and the secrets of a data folder, as docs/serving.md tells to write them."""
    root.chmod(0o700)
    (root / "people.toml").write_text(PEOPLE, encoding="utf-8")
    secrets = root / "secrets.toml"
    secrets.write_text(
        f'[auth]\nredirect_uri = "{address}/oauth2callback"\ncookie_secret = "{COOKIE_SECRET}"\n'
        f'client_id = "latewood"\nclient_secret = "not-asked-for-by-this-provider"\n'
        f'server_metadata_url = "{provider}/.well-known/openid-configuration"\n',
        encoding="utf-8",
    )
    secrets.chmod(0o600)


@contextmanager
def latewood(root: Path, port: int, *more: str) -> Iterator[None]:
    """The screens of a data folder, served by the command line until the block ends."""
    command = [sys.executable, "-m", "latewood", "serve", "--data", str(root), "--port", str(port), *more]
    with running(command, f"http://127.0.0.1:{port}/_stcore/health"):
        yield


@pytest.fixture(scope="session")
def own_camps(two_camps: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copytree(two_camps, tmp_path_factory.mktemp("signin") / "data"))


@pytest.fixture(scope="session")
def served(own_camps: Path, provider: str) -> Iterator[Served]:
    port = free_port()
    address = f"http://127.0.0.1:{port}"
    write_sign_in(own_camps, provider, address)
    with latewood(own_camps, port):
        yield Served(address=address, root=own_camps)


@pytest.fixture(scope="session")
def kept_visit(machine_browser: Browser) -> Iterator[BrowserContext]:
    context = machine_browser.new_context(viewport={"width": 1440, "height": 900}, ignore_https_errors=True)
    context.route("**/*", _only_here)
    context.new_page()
    yield context
    context.close()


@pytest.fixture
def visit(kept_visit: BrowserContext) -> Iterator[BrowserContext]:
    """Somebody at a browser with one tab open, who was never here: no cookie, nothing kept."""
    assert kept_visit.cookies() == []
    yield kept_visit
    kept_visit.set_extra_http_headers({})
    empty(kept_visit.pages[0])


def _only_here(route: Route) -> None:
    """The provider's page asks for a style sheet from elsewhere; nothing of this test leaves the machine."""
    if route.request.url.startswith(("http://127.0.0.1", "https://127.0.0.1", "https://localhost")):
        route.continue_()
    else:
        route.abort()


def settle(page: Page) -> str:
    """Everything the page says, once nothing runs any more."""
    page.wait_for_selector("h2", timeout=60_000)
    page.wait_for_function(
        "!document.querySelector('[data-testid=stStatusWidget],[data-testid=stSkeleton]')", timeout=60_000
    )
    page.wait_for_timeout(600)
    return page.inner_text("body")


def sign_in(context: BrowserContext, address: str, who: str) -> Page:
    """Go through the provider as one of its users, in the tab opened last; the page one comes back to."""
    page = context.pages[-1]
    page.goto(f"{address}/")
    settle(page)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("button", name=who, exact=True).click(timeout=60_000)
    page.wait_for_url(f"{address}/**", timeout=60_000)
    settle(page)
    return page
