"""What pyproject.toml promises to installers, and that the locks of deploy/ keep it."""

import ast
import os
import re
import subprocess
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[3]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
META = PROJECT["project"]
EXTRAS = META["optional-dependencies"]
PIN = r"^([\w.-]+)(?:\[[\w,]+\])?==([^ ;\\]+)(?: ; ([^\\\n]+?))? \\$"
PYTHONS = ("3.11", "3.12", "3.13")


def _pins(lock: str) -> dict[str, list[tuple[str, str]]]:
    """Return the versions that a lock pins, with the marker of each."""
    found: dict[str, list[tuple[str, str]]] = {}
    for name, version, marker in re.findall(
        r"^([\w.-]+)(?:\[[\w,]+\])?==([^ ;\\]+)(?: ; ([^\\\n]+?))? \\$",
        (ROOT / "deploy" / lock).read_text("utf-8"),
        re.MULTILINE,
    ):
        found.setdefault(canonicalize_name(name), []).append((version, marker))
    return found


def _libraries() -> dict[str, set[str]]:
    """Return the outside modules that the program imports, each with the files that do."""
    found: dict[str, set[str]] = {}
    for path in (path for room in ("bot", "scheduler", "storage") for path in (ROOT / room).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) and not node.level else []
            names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            for name in {name.partition(".")[0] for name in names} - sys.stdlib_module_names:
                found.setdefault(name, set()).add(path.relative_to(ROOT).as_posix())
    return {name: files for name, files in found.items() if name not in {"bot", "scheduler", "storage"}}


def _names(requirements: list[str]) -> set[str]:
    return {canonicalize_name(Requirement(line).name) for line in requirements}


def test_f32_every_library_that_is_imported_is_declared():
    core, homes = _names(META["dependencies"]), packages_distributions()
    undeclared = {}
    for module, files in _libraries().items():
        givers = {canonicalize_name(name) for name in homes[module]}
        if givers & core:
            continue
        matrix = all(path.startswith("bot/chat/matrix/") for path in files)
        named = {"psycopg": "postgres", "pdfplumber": "pdf", "sklearn": "evaluate"}.get(module, "")
        extra = _names(EXTRAS["matrix"] if matrix else EXTRAS.get(named, []))
        if not givers & extra:
            undeclared[module] = sorted(files)
    assert undeclared == {}


def test_f32_the_metadata_has_ranges_and_no_pins():
    for line in [*META["dependencies"], *(line for extra in EXTRAS.values() for line in extra)]:
        wanted = Requirement(line)
        assert {rule.operator for rule in wanted.specifier} <= {">=", "<"}, line
        assert any(rule.operator == ">=" for rule in wanted.specifier), f"{line}: from which version?"
    assert set(EXTRAS) == {"matrix", "postgres", "pdf", "evaluate"}


def test_the_metadata_names_licence_authors_and_pythons():
    assert META["license"] == "Apache-2.0"  # an SPDX expression (PEP 639), so no classifier of the licence
    assert META["authors"] == [{"name": "The Holdfast authors"}]
    assert not any(line.startswith("License ::") for line in META["classifiers"])
    named = {line.rpartition(" ")[2] for line in META["classifiers"] if re.search(r":: 3\.\d+$", line)}
    assert named == set(PYTHONS)
    assert "urls" not in META
    assert "Apache-2.0" in (ROOT / "README.md").read_text("utf-8")


@pytest.mark.parametrize(
    ("lock", "extras"),
    [
        ("requirements.txt", []),
        ("requirements-matrix.txt", ["matrix"]),
        ("requirements-postgres.txt", ["postgres"]),
        ("requirements-pdf.txt", ["pdf"]),
        ("requirements-test.txt", ["matrix", "postgres"]),
    ],
)
def test_f32_a_lock_pins_what_the_metadata_asks_for(lock, extras):
    pins = _pins(lock)
    for line in [*META["dependencies"], *(line for extra in extras for line in EXTRAS[extra])]:
        wanted = Requirement(line)
        versions = pins.get(canonicalize_name(wanted.name), [])
        assert versions, f"{lock} lacks {wanted.name}: run deploy/lock.sh"
        for version, _ in versions:
            assert wanted.specifier.contains(version), f"{lock}: {wanted.name} {version} is outside {line}"


@pytest.mark.parametrize("extra", ["", "-matrix", "-postgres", "-pdf", "-build"])
def test_all_locks_pin_the_same_versions(extra):
    everything, lock = _pins("requirements-test.txt"), _pins(f"requirements{extra}.txt")
    both = everything.keys() & lock.keys()
    assert {name: [version for version, _ in lock[name]] for name in both} == {
        name: [version for version, _ in everything[name]] for name in both
    }


def test_f32_the_run_time_locks_hold_no_build_tools_and_the_core_nothing_of_matrix():
    tools = {"hatchling", "editables", "setuptools", "wheel", "pip", "trove-classifiers", "pathspec"}
    for lock in ("", "-matrix", "-postgres"):
        assert not tools & set(_pins(f"requirements{lock}.txt"))
    assert not _names(EXTRAS["matrix"] + EXTRAS["postgres"]) & set(_pins("requirements.txt"))
    assert "vodozemac" not in _pins("requirements.txt")


def test_f32_what_is_locked_is_written_once():
    assert list((ROOT / "deploy").glob("*.in")) == []


def test_f32_installing_builds_nothing_unpinned():
    """A dependency without a wheel would be built with whatever setuptools there is that day."""
    for name in ("environment.sh", "servers.sh", "Dockerfile", "lock.sh"):
        text = (ROOT / "deploy" / name).read_text("utf-8").replace("\\\n", " ")
        for line in text.splitlines():
            if (
                re.search(r"pip install|pip compile", line)
                and "--no-deps --no-build-isolation --no-index" not in line
            ):
                for part in re.split(r"&&", line):
                    assert "install" not in part or "--only-binary :all:" in part, f"{name}: {part}"


def test_f32_the_build_backend_is_pinned_and_in_the_range_of_the_build():
    (wanted,) = (Requirement(line) for line in PROJECT["build-system"]["requires"])
    ((version, _),) = _pins("requirements-build.txt")["hatchling"]
    assert wanted.specifier.contains(version)
    assert SpecifierSet(">=1.27").contains(version)  # the first with SPDX expressions (its history file)


WITHOUT = "nio", "vodozemac", "cryptography", "psycopg", "weasyprint", "pdfplumber", "sklearn"


def _without_extras(code: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run code in a process in which no extra can be imported."""
    hidden = f"import sys; sys.modules.update(dict.fromkeys({WITHOUT!r}))\n"
    kept = {name: value for name, value in os.environ.items() if not name.startswith("HOLDFAST_")}
    return subprocess.run(
        [sys.executable, "-c", hidden + code],
        capture_output=True, text=True, check=False, env={**kept, **environment},
    )  # fmt: skip


def test_f32_without_the_extras_everything_but_matrix_can_be_imported():
    names = [
        path.relative_to(ROOT).with_suffix("").as_posix().replace("/", ".")
        for room in ("bot", "scheduler", "storage")
        for path in (ROOT / room).rglob("*.py")
        if "matrix" not in path.parts and "migrations" not in path.parts
    ]
    done = _without_extras(f"from importlib import import_module\nfor name in {names!r}: import_module(name)")
    assert done.returncode == 0, done.stderr


def test_f32_matrix_without_its_extra_is_a_sentence_that_names_it(tmp_path):
    done = _without_extras(
        f"import os; os.chdir({str(tmp_path)!r}); sys.argv[1:] = ['run']\nfrom bot.cli import main; main()",
        HOLDFAST_MATRIX_HOMESERVER="https://matrix.school.example",
        HOLDFAST_MATRIX_USER="@holdfast:school.example",
        HOLDFAST_MATRIX_PASSWORD="x",
    )
    assert done.returncode == 78
    assert done.stderr.startswith(
        'Matrix is set up (HOLDFAST_MATRIX_HOMESERVER) and needs the extra "matrix", which is not installed (nio, '
        "vodozemac, cryptography not found)."
    )
    assert "pip install '.[matrix]'" in done.stderr


def test_f32_postgresql_without_its_extra_is_a_sentence_that_names_it(tmp_path):
    done = _without_extras(
        f"import os; os.chdir({str(tmp_path)!r}); sys.argv[1:] = ['db', 'status']\nfrom bot.cli import main; main()",
        HOLDFAST_DATABASE_URL="postgresql://holdfast@127.0.0.1:1/holdfast",
    )
    assert done.returncode == 1
    assert done.stderr.startswith('PostgreSQL needs the extra "postgres", which is not installed')


def test_f33_every_moment_that_is_none_names_its_unit():
    """Numpy 2.5, which there is for Python 3.12 and newer only, deprecates the NaT without one."""
    for path in (path for room in ("bot", "scheduler", "storage") for path in (ROOT / room).rglob("*.py")):
        text = path.read_text("utf-8")
        if "np.datetime64" not in text and "np.timedelta64" not in text:
            continue  # no such call: reading every expression of every file takes seconds
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Call) and ast.unparse(node.func) in {"np.datetime64", "np.timedelta64"}:
                assert len(node.args) == 2, f"{path.name}:{node.lineno}: {ast.unparse(node)} has no unit"


def test_f33_the_tests_run_on_every_python_that_is_promised():
    assert "sh deploy/versions.sh" in (ROOT / ".ci/run").read_text("utf-8")
    (default,) = re.findall(r"\$\{\*:-([\d. ]+)\}", (ROOT / "deploy/versions.sh").read_text("utf-8"))
    assert tuple(default.split()) == PYTHONS
    assert META["requires-python"] == f">={PYTHONS[0]}"
