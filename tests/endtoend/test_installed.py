"""What an installer makes of the project: the wheel and the sdist, each in an empty environment, away from here."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import venv
from pathlib import Path

import pytest

from tests.conftest import need

ROOT = Path(__file__).parents[2]
LOCKS = ("requirements.txt", "requirements-build.txt")
KINDS = ("*.whl", "*.tar.gz")


def _run(*words: str | Path, cwd: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("HOLDFAST_", "PYTHON"))}
    return subprocess.run(
        [str(word) for word in words],
        cwd=cwd, env={**kept, **environment}, stdin=subprocess.DEVNULL,
        capture_output=True, text=True, timeout=600, check=False,
    )  # fmt: skip


@pytest.fixture(scope="module")
def packed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build wheel and sdist with the pinned build backend, which the tests' own environment has."""
    folder = tmp_path_factory.mktemp("packed")
    done = _run(sys.executable, "-m", "hatchling", "build", "-d", folder, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    return folder


@pytest.fixture(scope="module")
def wheels(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Fetch what the locks pin, build backend included: a new release of a library is not what is tested here."""
    folder = tmp_path_factory.mktemp("wheels")
    locks = [word for name in LOCKS for word in ("-r", str(ROOT / "deploy" / name))]
    fetch = [
        sys.executable,
        "-m",
        "pip",
        "download",
        "--quiet",
        "--no-deps",
        "--require-hashes",
        "-d",
        str(folder),
    ]
    done = _run(*fetch, "--only-binary", ":all:", *locks, cwd=folder)
    need(f"The pinned libraries cannot be fetched: {done.stderr.strip()[-300:]}" if done.returncode else "")
    return folder


@pytest.fixture(params=KINDS, ids=["wheel", "sdist"])
def installed(request: pytest.FixtureRequest, packed: Path, wheels: Path, tmp_path: Path) -> Path:
    """Let pip install one of them and what it asks for, and return the environment's folder of programs."""
    (dist,) = packed.glob(request.param)
    venv.create(tmp_path / "env", with_pip=True)
    programs = tmp_path / "env/bin"
    install: list[str | Path] = [programs / "python", "-m", "pip", "install", "--quiet", "--no-compile"]
    done = _run(
        *install, "--no-index", "--find-links", wheels, dist, cwd=tmp_path, PIP_CONFIG_FILE=os.devnull
    )
    assert done.returncode == 0, done.stderr
    return programs


@pytest.mark.slow
@pytest.mark.server
@pytest.mark.timeout(900)
def test_f32_the_installed_program_plays_a_week_of_the_demo(installed: Path, tmp_path: Path) -> None:
    away = tmp_path / "away"
    away.mkdir()
    done = _run(installed / "holdfast", "demo", "--weeks", "1", "--out", "demo", cwd=away)
    assert done.returncode == 0, done.stderr
    assert {path.suffix for path in (away / "demo/papers").iterdir()} == {".txt", ".png", ".xlsx", ".csv"}
    looked = (
        "import bot, importlib.util as u; print(bot.__file__);"
        "print([n for n in ('tests', 'deploy', 'nio', 'vodozemac', 'psycopg', 'hatchling') if u.find_spec(n)])"
    )
    where, extra = _run(installed / "python", "-c", looked, cwd=away).stdout.splitlines()
    assert Path(where).is_relative_to(installed.parent)
    assert extra == "[]"
    check = _run(installed / "python", "-m", "pip", "check", cwd=away)
    assert check.returncode == 0, check.stdout


def test_f32_the_sdist_holds_the_program_and_nothing_else(packed: Path) -> None:
    (sdist,) = packed.glob("*.tar.gz")
    with tarfile.open(sdist) as archive:
        tops = {name.split("/")[1] for name in archive.getnames()}
    assert tops == {"bot", "scheduler", "storage", "README.md", "pyproject.toml", "PKG-INFO", ".gitignore"}
