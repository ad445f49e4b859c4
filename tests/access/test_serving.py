"""Where the screens may be served, and what is checked first."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest
from typer.testing import CliRunner

from latewood.pipeline.cli.main import app
from latewood.pipeline.cli.serving import is_loopback, prepare
from latewood.pipeline.errors import ServeError, StaffError
from tests.tools.shots import free_port

ROOT = Path(__file__).parents[2]
PEOPLE = '[[people]]\nemail = "sage@example.org"\nname = "Sage"\nroles = ["director"]\n'
AUTH = {
    "redirect_uri": "https://camp.example.org/oauth2callback",
    "cookie_secret": "x" * 40,
    "client_id": "latewood",
    "client_secret": "y",
    "server_metadata_url": "https://id.example.org/.well-known/openid-configuration",
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    root = tmp_path / "data"
    prepare(root, "127.0.0.1", 8501)
    return root


def secrets(root: Path, **changed: str | None) -> Path:
    lines = [f'{key} = "{value}"' for key, value in {**AUTH, **changed}.items() if value is not None]
    path = root / "secrets.toml"
    path.write_text("[auth]\n" + "\n".join(lines) + "\n")
    path.chmod(0o600)
    (root / "people.toml").write_text(PEOPLE)
    return path


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1", "[::1]", "127.8.8.8"])
def test_this_machine_is_known(host) -> None:
    assert is_loopback(host)


@pytest.mark.parametrize(
    "host", ["0.0.0.0", "", "::", "10.0.0.2", "camp.example.org", "127.0.0.1.example.org"]
)
def test_everything_else_is_elsewhere(host) -> None:
    assert not is_loopback(host)


def test_without_a_sign_in_only_this_machine_is_served(folder) -> None:
    assert "127.0.0.1" in prepare(folder, "127.0.0.1", 8501).command
    for address in ("0.0.0.0", "::", "192.168.1.7", "camp.example.org"):
        with pytest.raises(
            ServeError, match=f"address {re.escape(address)}: other machines could read everything"
        ):
            prepare(folder, address, 8501)


def test_the_command_refuses_with_exit_code_two(folder) -> None:
    result = CliRunner().invoke(app, ["serve", "--data", str(folder), "--address", "0.0.0.0"])
    assert isinstance(result.exception, ServeError)
    run = subprocess.run(
        [sys.executable, "-m", "latewood", "serve", "--data", str(folder), "--address", "0.0.0.0"],
        capture_output=True, text=True, timeout=120, check=False, cwd=ROOT,
    )  # fmt: skip
    assert run.returncode == 2
    assert "without a sign-in" in run.stderr


def test_with_a_sign_in_the_secrets_and_the_host_are_handed_on(folder, monkeypatch) -> None:
    monkeypatch.setenv("STREAMLIT_SERVER_TRUSTED_USER_HEADERS", '{"X-User": "email"}')
    path = secrets(folder)
    serving = prepare(folder, "0.0.0.0", 8501)
    at = serving.command.index("--secrets.files")
    assert serving.command[at + 1] == str(path)
    assert serving.command[serving.command.index("--server.allowedHosts") + 1] == "camp.example.org"
    assert not [key for key in serving.environment if key.startswith("STREAMLIT_")]
    assert serving.warnings == ()


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"cookie_secret": "short"}, "cookie_secret: is shorter than 32"),
        ({"client_secret": None}, "client_secret: is missing"),
        ({"client_id": " "}, "client_id: is missing"),
        (
            {"redirect_uri": "http://camp.example.org/oauth2callback"},
            "would send the sign-in unprotected; use https",
        ),
        ({"server_metadata_url": "http://id.example.org/x"}, "server_metadata_url: .* use https"),
        ({"redirect_uri": "https://camp.example.org/"}, "redirect_uri: must be the address people open"),
        ({"redirect_uri": "camp"}, "redirect_uri: 'camp' is not an address"),
        ({"expose_tokens": "id"}, "expose_tokens: no such field; accepted are"),
    ],
)
def test_weak_or_incomplete_secrets_are_refused(changed, said, folder) -> None:
    secrets(folder, **changed)
    with pytest.raises(ServeError, match=said):
        prepare(folder, "127.0.0.1", 8501)


def test_secrets_without_people_or_without_their_section_are_refused(folder) -> None:
    path = secrets(folder)
    (folder / "people.toml").write_text("")
    with pytest.raises(ServeError, match="names nobody"):
        prepare(folder, "127.0.0.1", 8501)
    (folder / "people.toml").write_text("[[people]]\n")
    with pytest.raises(StaffError, match="line 1, entry 1, email"):
        prepare(folder, "127.0.0.1", 8501)
    path.write_text("a = 1\n")
    with pytest.raises(ServeError, match=r"has no \[auth\] section"):
        prepare(folder, "127.0.0.1", 8501)
    with pytest.raises(ServeError, match="there is no such file"):
        prepare(folder, "127.0.0.1", 8501, folder / "other.toml")


posix = pytest.mark.skipif(os.name != "posix", reason="only POSIX systems have these modes")


@posix
def test_a_new_data_folder_is_closed_to_other_users(folder) -> None:
    assert folder.stat().st_mode & 0o777 == 0o700


@posix
@pytest.mark.parametrize("mode", [0o755, 0o750, 0o701, 0o770])
def test_an_open_data_folder_is_named_and_with_a_sign_in_refused(mode, folder) -> None:
    folder.chmod(mode)
    (warning,) = prepare(folder, "127.0.0.1", 8501).warnings
    assert warning.endswith(f"(mode {mode:o}); run: chmod 700 {folder}")
    secrets(folder)
    with pytest.raises(ServeError, match=r"other users of this machine can reach it .*run: chmod 700"):
        prepare(folder, "127.0.0.1", 8501)


@posix
@pytest.mark.parametrize("mode", [0o644, 0o640, 0o606])
def test_secrets_that_others_can_read_are_refused(mode, folder) -> None:
    secrets(folder).chmod(mode)
    with pytest.raises(ServeError, match=r"secrets.toml: other users .*run: chmod 600"):
        prepare(folder, "127.0.0.1", 8501)


def test_no_secrets_are_in_the_repository() -> None:
    tracked = subprocess.run(
        ["git", "ls-files"], capture_output=True, text=True, check=False, cwd=ROOT
    ).stdout.splitlines()
    if not tracked:
        pytest.skip("this is no git checkout")
    assert not [name for name in tracked if re.search(r"secrets\.toml$|\.pem$|\.key$|\.env$", name)]
    assert "secrets.toml" in (ROOT / ".gitignore").read_text()


def test_the_screens_take_the_place_of_the_command_so_that_no_child_is_left() -> None:
    requested = (
        "import os, sys; from latewood.pipeline.cli.serving import Serving, run; "
        "told = 'import os, time; print(os.getpid(), flush=True); time.sleep(60)'; "
        "run(Serving(command=(sys.executable, '-c', told), environment=dict(os.environ), warnings=()))"
    )
    with subprocess.Popen(
        [sys.executable, "-c", requested], stdout=subprocess.PIPE, text=True, cwd=ROOT
    ) as served:
        try:
            assert int(served.stdout.readline()) == served.pid
        finally:
            served.kill()


@pytest.mark.skipif(os.name != "posix", reason="elsewhere a child serves, and is ended with its parent")
@pytest.mark.parametrize("sent", [signal.SIGTERM, signal.SIGINT, signal.SIGKILL], ids=lambda s: s.name)
def test_whatever_stops_the_command_frees_its_port(sent: signal.Signals, tmp_path: Path) -> None:
    port = free_port()
    words = ["serve", "--data", str(tmp_path / "data"), "--port", str(port)]
    with (tmp_path / "said.txt").open("w") as text:
        served = subprocess.Popen(
            [sys.executable, "-m", "latewood", *words],
            stdout=text,
            stderr=text,
            cwd=tmp_path,
            preexec_fn=_heeds_interrupts,
        )
    try:
        deadline = time.monotonic() + 120
        while not _listens(port) and time.monotonic() < deadline:
            time.sleep(0.2)
        assert _listens(port), (tmp_path / "said.txt").read_text()
        served.send_signal(sent)
        served.wait(timeout=60)
    finally:
        served.kill()
        served.wait()
    assert not _listens(port)


def _heeds_interrupts() -> None:
    """What a shell runs in its background inherits that interrupts are ignored; a command at a terminal does not."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def _listens(port: int) -> bool:
    with socket.socket() as requested:
        return requested.connect_ex(("127.0.0.1", port)) == 0
