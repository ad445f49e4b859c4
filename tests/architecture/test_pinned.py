"""docs/pinned.txt holds what a server installs by hash: the versions of constraints.txt, and all that is needed."""

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]
PINNED = (ROOT / "docs" / "pinned.txt").read_text(encoding="utf-8")


def plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def versions(text: str) -> dict[str, str]:
    return {
        plain(name): version for name, version in re.findall(r"^([\w.-]+)==([^\s;\\]+)", text, re.MULTILINE)
    }


def test_versions_are_those_of_the_constraints() -> None:
    constraints = versions((ROOT / "constraints.txt").read_text(encoding="utf-8"))
    pinned = versions(PINNED)
    assert len(pinned) > 50
    assert {
        name: version for name, version in pinned.items() if constraints.get(name, version) != version
    } == {}


def test_every_package_has_a_hash_and_no_address() -> None:
    entries = re.split(r"\n(?=\S)", PINNED.strip())
    assert [one.split("==")[0] for one in entries if "--hash=sha256:" not in one] == []
    assert "://" not in PINNED


def test_what_a_server_needs_is_there() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    wanted = [*project["dependencies"], *extras["signin"], *extras["print"]]
    names = {plain(re.split(r"[<>=\[; ]", one)[0]) for one in wanted}
    assert names - set(versions(PINNED)) == set()
