"""docs/nginx.conf, run as it stands with other names and ports, in front of `latewood serve`."""

from __future__ import annotations

import contextlib
import http.client
import os
import re
import shutil
import ssl
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from latewood.pipeline.cli.serving import prepare
from tests.signin.conftest import ROOT, Served, latewood, running, settle, sign_in, write_sign_in
from tests.tools.shots import free_port

NGINX = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")
pytestmark = pytest.mark.skipif(
    os.environ.get("CI") != "true" and (NGINX is None or shutil.which("openssl") is None),
    reason="no nginx or no openssl on this machine; install them with: apt-get install nginx-light openssl",
)
MAIN = """
worker_processes 1;
pid {here}/nginx.pid;
error_log {here}/error.log;
events {{ worker_connections 256; }}
http {{
    access_log {here}/access.log;
    include /etc/nginx/mime.types;
    client_body_temp_path {here}/body;
    proxy_temp_path {here}/proxy;
    fastcgi_temp_path {here}/fastcgi;
    uwsgi_temp_path {here}/uwsgi;
    scgi_temp_path {here}/scgi;
{recipe}
}}
"""


def recipe(here: Path, tls: int, plain: int, inner: int) -> str:
    text = (ROOT / "docs" / "nginx.conf").read_text(encoding="utf-8")
    changes = {
        "camp.example.org$request_uri": f"localhost:{tls}$request_uri",
        "camp.example.org": "localhost",
        "listen 443": f"listen 127.0.0.1:{tls}",
        "listen 80": f"listen 127.0.0.1:{plain}",
        "http://127.0.0.1:8501": f"http://127.0.0.1:{inner}",
        "/etc/latewood/tls": str(here),
    }
    for old, new in changes.items():
        assert old in text, old
        text = text.replace(old, new)
    return text


def certificate(here: Path) -> None:
    command = [
        "openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
        "-keyout", str(here / "privkey.pem"), "-out", str(here / "fullchain.pem"), "-days", "2",
        "-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost",
    ]  # fmt: skip
    subprocess.run(command, check=True, capture_output=True)


@pytest.fixture(scope="module")
def ports() -> tuple[int, int, int]:
    return free_port(), free_port(), free_port()


@pytest.fixture(scope="module")
def behind(
    two_camps: Path, provider: str, ports: tuple[int, int, int], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Served]:
    tls, plain, inner = ports
    here = tmp_path_factory.mktemp("nginx")
    root = Path(shutil.copytree(two_camps, here / "data"))
    write_sign_in(root, provider, f"https://localhost:{tls}")
    certificate(here)
    config = here / "nginx.conf"
    config.write_text(MAIN.format(here=here, recipe=recipe(here, tls, plain, inner)), encoding="utf-8")
    if os.getuid() == 0:  # started by root, nginx works as another user, who must reach its own folders
        config.write_text("user root;\n" + config.read_text(encoding="utf-8"), encoding="utf-8")
    command = [str(NGINX), "-c", str(config), "-e", str(here / "error.log"), "-g", "daemon off;"]
    with latewood(root, inner), running(command, f"http://127.0.0.1:{inner}/_stcore/health"):
        yield Served(address=f"https://localhost:{tls}", root=root)


def ask(port: int, *, tls: bool, path: str = "/", host: str = "localhost") -> http.client.HTTPResponse:
    insecure = ssl.create_default_context()
    insecure.check_hostname, insecure.verify_mode = False, ssl.CERT_NONE
    kind = (
        http.client.HTTPSConnection(host, port, context=insecure)
        if tls
        else http.client.HTTPConnection(host, port)
    )
    with contextlib.closing(kind):
        kind.request("GET", path)
        result = kind.getresponse()
        result.read()
    return result


def test_sign_in_screens_charts_and_uploads_work_through_the_proxy(visit, behind) -> None:
    complaints: list[str] = []
    sockets: list[str] = []
    visit.on("console", lambda message: complaints.append(message.text))
    visit.pages[0].on("websocket", lambda socket: sockets.append(socket.url))
    page = sign_in(visit, behind.address, "cole")
    page.goto(f"{behind.address}/athlete?athlete=T2&section=time")
    assert "Bram Siltwood" in settle(page)
    assert page.locator("canvas, .vega-embed svg").count() > 0
    assert sockets
    assert all(url.startswith(behind.address.replace("https", "wss")) for url in sockets)
    assert not [text for text in complaints if "Content Security Policy" in text]
    visit.clear_cookies()
    page = sign_in(visit, behind.address, "stu")
    page.goto(f"{behind.address}/data")
    page.locator("input[type=file]").set_input_files(
        files=[{"name": "what.csv", "mimeType": "text/csv", "buffer": b"a,b\n1,2\n"}]
    )
    page.get_by_text("what.csv").first.wait_for(timeout=30_000)
    page.get_by_role("button", name="Import").click()
    page.locator("[data-testid=stAlert]", has_text="what.csv").wait_for(timeout=30_000)


def test_every_cookie_is_for_tls_only(visit, behind) -> None:
    sign_in(visit, behind.address, "dana")
    cookies = {one["name"]: one for one in visit.cookies(behind.address)}
    assert "_streamlit_user" in cookies
    assert [name for name, one in cookies.items() if not one["secure"]] == []
    assert cookies["_streamlit_user"]["httpOnly"]


def test_the_headers_of_the_recipe_are_sent(behind, ports) -> None:
    response = ask(ports[0], tls=True)
    assert response.status == 200
    assert response.headers["Strict-Transport-Security"] == "max-age=31536000"
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert response.headers["X-Frame-Options"] == "DENY"
    assert "frame-ancestors 'none'" in response.headers["Content-Security-Policy"]
    assert not any(character.isdigit() for character in response.headers.get("Server", ""))


def test_plain_http_is_sent_to_tls_and_another_name_gets_no_answer(behind, ports) -> None:
    response = ask(ports[1], tls=False, path="/plans")
    assert (response.status, response.headers["Location"]) == (301, f"{behind.address}/plans")
    with pytest.raises(ssl.SSLError):
        ask(ports[0], tls=True, host="127.0.0.1")


def test_the_server_behind_takes_no_page_under_its_own_address(visit, behind, ports) -> None:
    page = visit.pages[0]
    refused: list[str] = []
    page.on("websocket", lambda socket: socket.on("close", lambda _: refused.append(socket.url)))
    page.goto(f"http://127.0.0.1:{ports[2]}/")
    page.wait_for_timeout(4000)
    assert refused
    assert "Sign in to see" not in page.inner_text("body")


def test_a_proxy_before_a_program_without_sign_in_is_refused(visit, two_camps, tmp_path) -> None:
    """Whoever only forwards to the loopback address would open every role to the world."""
    root, port = Path(shutil.copytree(two_camps, tmp_path / "data")), free_port()
    assert prepare(root, "127.0.0.1", port).warnings == ()
    visit.set_extra_http_headers({"X-Forwarded-For": "192.0.2.7"})
    with latewood(root, port):
        page = visit.pages[0]
        page.goto(f"http://127.0.0.1:{port}/athlete?athlete=T1")
        text = settle(page)
    assert "served to other machines without a sign-in" in text
    assert "Fernmoss" not in page.content()


@pytest.mark.parametrize("path", ["/", "/summaries", "/media/sheet.pdf", "/_stcore/health"])
def test_what_may_hold_data_stays_in_no_cache(behind, ports, path: str) -> None:
    assert ask(ports[0], tls=True, path=path).headers.get_all("Cache-Control") == ["no-store"]


def test_files_of_the_interface_keep_the_servers_own_word(behind, ports) -> None:
    with contextlib.closing(http.client.HTTPConnection("127.0.0.1", ports[2])) as inner:
        inner.request("GET", "/")
        script = re.search(r"static/js/[^\"]+\.js", inner.getresponse().read().decode())
    assert script is not None
    given = ask(ports[0], tls=True, path=f"/{script[0]}").headers.get_all("Cache-Control")
    assert given is not None and len(given) == 1
    assert "max-age" in given[0]
