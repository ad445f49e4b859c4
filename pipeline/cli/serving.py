"""How the screens are served: on this machine for the person at it, or elsewhere behind a sign-in, never without."""

from __future__ import annotations

import ipaddress
import os
import stat
import subprocess
import sys
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from urllib.parse import urlsplit

from latewood.pipeline.errors import LatewoodError, ServeError
from latewood.pipeline.ingest.people import staff
from latewood.pipeline.ingest.program import FOLLOWS, prepare_folder

SECRETS = "secrets.toml"
CALLBACK = "/oauth2callback"
SHORTEST_SECRET = 32
_NEEDED = ("redirect_uri", "cookie_secret", "client_id", "client_secret", "server_metadata_url")
_ACCEPTED = {*_NEEDED, "client_kwargs"}
GUIDE = "docs/serving.md tells how"


@dataclass(frozen=True, slots=True, kw_only=True)
class Serving:
    """The command that serves the screens with its environment, and what the person who serves should correct."""

    command: tuple[str, ...]
    environment: Mapping[str, str]
    warnings: tuple[str, ...]


def run(serving: Serving) -> int:
    """Serve until it is stopped, and return the exit code.

    Where the system can do that the screens take the place of this process, so that there is no child which could
    go on listening after whoever started it was stopped or killed.
    """
    if os.name == "posix":
        sys.stdout.flush()
        sys.stderr.flush()
        os.execve(serving.command[0], serving.command, dict(serving.environment))
    child = subprocess.Popen(serving.command, env=dict(serving.environment))
    try:
        return child.wait()
    finally:
        child.terminate()


def is_loopback(host: str) -> bool:
    """Whether a host name or address is this machine's own and nobody else's."""
    try:
        return host == "localhost" or ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def prepare(root: Path, address: str, port: int, secrets: Path | None = None) -> Serving:
    """Check everything that serving at an address needs.

    Raises ServeError or StaffError naming the file, the field and the fix.
    """
    prepare_folder(root)
    path = secrets or root / SECRETS
    if secrets is not None and not secrets.exists():
        raise ServeError(f"{secrets}: there is no such file; {GUIDE}")
    if not path.exists():
        if not is_loopback(address):
            raise ServeError(
                f"address {address}: other machines could read everything without a sign-in; leave --address out, "
                f"or configure the sign-in ({GUIDE})"
            )
        return Serving(
            command=_command(address, port),
            environment=_environment(root),
            warnings=tuple(_open_to_all(root)),
        )
    _check_access(root, path)
    host = _check_secrets(path)
    if not staff.load_staff(root).people:
        raise ServeError(f"{staff.FILE}: names nobody, so nobody could sign in; {GUIDE}")
    flags = ("--secrets.files", str(path.absolute()), "--server.allowedHosts", host)
    return Serving(command=_command(address, port, *flags), environment=_environment(root), warnings=())


def _open_to_all(path: Path) -> Iterator[str]:
    """What is wrong with who may read a file or folder besides its owner; nothing where the system has no modes."""
    if os.name != "posix":
        return
    result = path.stat()
    mode, wanted = stat.S_IMODE(result.st_mode), "700" if path.is_dir() else "600"
    if mode & 0o077:
        yield f"{path}: other users of this machine can reach it (mode {mode:o}); run: chmod {wanted} {path}"
    if result.st_uid not in {0, os.getuid()}:
        yield f"{path}: belongs to another user; run: chown $(id -un) {path}"


def _check_access(root: Path, secrets: Path) -> None:
    for path in (root, secrets):
        for problem in _open_to_all(path):
            raise ServeError(problem)


def _check_secrets(path: Path) -> str:
    """Check the sign-in's secrets and return the host under which people reach the screens."""
    where = f"{path.name}, [auth]"
    try:
        auth = tomllib.loads(path.read_text(encoding="utf-8")).get("auth")
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ServeError(f"{path.name}: cannot be read as TOML ({error}); correct it") from error
    if not isinstance(auth, dict):
        raise ServeError(f"{path.name}: has no [auth] section; {GUIDE}")
    for field in sorted(set(auth) - _ACCEPTED):
        raise ServeError(f"{where}, {field}: no such field; accepted are {', '.join(sorted(_ACCEPTED))}")
    for field in _NEEDED:
        if not isinstance(auth.get(field), str) or not auth[field].strip():
            raise ServeError(f"{where}, {field}: is missing; {GUIDE}")
    if len(auth["cookie_secret"]) < SHORTEST_SECRET:
        raise ServeError(
            f"{where}, cookie_secret: is shorter than {SHORTEST_SECRET} letters; make one with: "
            'python3 -c "import secrets; print(secrets.token_urlsafe(48))"'
        )
    for field in ("redirect_uri", "server_metadata_url"):
        _check_address(auth[field], f"{where}, {field}")
    if urlsplit(auth["redirect_uri"]).path != CALLBACK:
        raise ServeError(f"{where}, redirect_uri: must be the address people open, then {CALLBACK}")
    if find_spec("authlib") is None or find_spec("httpx") is None:
        raise ServeError("the sign-in needs Authlib and httpx; install the project with [signin]")
    return str(urlsplit(auth["redirect_uri"]).hostname)


def _check_address(url: str, where: str) -> None:
    parts = urlsplit(url)
    if not parts.hostname or parts.scheme not in {"http", "https"}:
        raise ServeError(f"{where}: {url!r} is not an address such as https://camp.example.org; correct it")
    if parts.scheme == "http" and not is_loopback(parts.hostname):
        raise ServeError(f"{where}: {url!r} would send the sign-in unprotected; use https")


def _command(address: str, port: int, *flags: str) -> tuple[str, ...]:
    if find_spec("streamlit") is None or find_spec("altair") is None:
        raise ServeError("the screens need Streamlit and Altair; install the project with [screens]")
    package = find_spec("latewood.dashboard")
    if package is None or package.origin is None:
        raise LatewoodError("the screens are not installed; install the project with its dashboard folder")
    return (
        sys.executable, "-m", "latewood.dashboard.server", "run", str(Path(package.origin).with_name("app.py")),
        "--server.address", address, "--server.port", str(port), "--server.headless", "true", *flags,
    )  # fmt: skip


def _environment(root: Path) -> dict[str, str]:
    """Our environment with the data folder named, and without Streamlit's switches: none may undo the checks.

    Builds follow typed values, unless the environment says that they do not.
    """
    kept = {key: value for key, value in os.environ.items() if not key.startswith("STREAMLIT_")}
    return {**kept, "LATEWOOD_DATA": str(root), FOLLOWS: kept.get(FOLLOWS, "1")}
