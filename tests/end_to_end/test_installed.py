"""An installed wheel does all that the project's folder does: every file that the code opens came along."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
OPENED = {".sql", ".toml", ".csv", ".typ", ".css", ".ttf", ".png", ".xlsx", ".json"}
FOLDERS = {
    "pipeline": "latewood/pipeline",
    "dashboard": "latewood/dashboard",
    "seed_data": "latewood/seed_data",
}
BUILD = "import sys; from setuptools import build_meta; print(build_meta.build_wheel(sys.argv[1]))"


def run(*words: str, cwd: Path, **more: str) -> subprocess.CompletedProcess[str]:
    env = {k: v for k, v in os.environ.items() if not k.startswith("LATEWOOD_")} | more
    return subprocess.run(
        [sys.executable, *words], cwd=cwd, env=env, capture_output=True, text=True, check=False
    )


def tracked() -> list[str]:
    words = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    if words.returncode:
        return [
            str(p.relative_to(ROOT)) for f in (*FOLDERS, "docs") for p in (ROOT / f).rglob("*") if p.is_file()
        ]
    return words.stdout.splitlines()


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel built from a copy of what the project keeps, so that nothing is left in its folder."""
    folder = tmp_path_factory.mktemp("wheel")
    source, made = folder / "source", folder / "made"
    made.mkdir()
    for name in tracked():
        if name.split("/")[0] in {*FOLDERS, "docs"} or "/" not in name:
            (source / name).parent.mkdir(parents=True, exist_ok=True)
            if (ROOT / name).is_file():
                (source / name).write_bytes((ROOT / name).read_bytes())
    built = run("-c", BUILD, str(made), cwd=source)
    assert built.returncode == 0, built.stderr[-2000:]
    (result,) = made.glob("*.whl")
    return result


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("site")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(target)
    return target


def test_every_file_that_the_code_opens_is_in_the_wheel(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        inside = set(archive.namelist())
    wanted = {
        f"{FOLDERS[top]}/{rest}"
        for name in tracked()
        for top, _, rest in [name.partition("/")]
        if top in FOLDERS and Path(name).suffix in (OPENED if top == "seed_data" else {*OPENED, ".py"})
    }
    assert len(wanted) > 200, "the list of the project's files is not whole"
    wanted = {name.replace("latewood/pipeline/latewood/", "latewood/") for name in wanted}
    assert sorted(wanted - inside) == []
    assert {"latewood/docs/methods.md", "latewood/docs/serving.md", "latewood/docs/import_guide.md"} <= inside


def test_the_demo_starts_from_any_folder(installed: Path, tmp_path: Path) -> None:
    code = """
import sys
import latewood.pipeline.cli.demo as demo
from latewood.dashboard.text.how_sure import KINDS, methods_section
assert demo.__file__.startswith(sys.argv[1]), demo.__file__
for kind in KINDS:
    assert methods_section(kind.section).startswith(f"## {kind.section}. "), kind
def taken(root, paths, by, **more):
    print("files", len([p for folder in paths for p in folder.iterdir()]))
demo.land_files, demo.build = taken, lambda root, progress: None
from pathlib import Path
from latewood.pipeline.cli.main import app
app(["demo", "--data", sys.argv[2]])
"""
    done = run("-P", "-c", code, str(installed), str(tmp_path / "d"), cwd=tmp_path, PYTHONPATH=str(installed))
    assert done.returncode == 0, done.stderr[-2000:]
    n_files = len(list((ROOT / "seed_data" / "files").iterdir()))
    assert f"files {n_files}" in done.stdout
    assert (tmp_path / "d" / "program.toml").read_bytes() == (
        ROOT / "seed_data" / "program.toml"
    ).read_bytes()
    assert len(list((tmp_path / "d" / "mappings").glob("*.toml"))) > 1


def test_the_version_is_told_without_the_statistics(installed: Path, tmp_path: Path) -> None:
    code = """
import sys
sys.argv = ["latewood", "--version"]
from latewood.pipeline.cli.start import main
main()
print(sorted({"pandas", "duckdb", "statsmodels", "scipy", "numpy", "typer"} & set(sys.modules)))
"""
    done = run("-P", "-c", code, cwd=tmp_path, PYTHONPATH=str(installed))
    assert done.stdout.splitlines() == ["latewood 0.1.0", "[]"], done.stderr
