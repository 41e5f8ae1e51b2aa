"""Every file of deploy/ is read and held against the program that it speaks of."""

import json
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
import zipfile
from datetime import timedelta
from pathlib import Path

import click
import pytest
import yaml

from bot.app import build
from bot.chat.telegram.updates import _LARGEST_UPDATE, Webhook
from bot.cli.group import COMMANDS, holdfast
from bot.cli.outcome import SETTINGS, USAGE
from bot.clock import HandClock
from bot.health import Health
from bot.service.engine.context import AppContext
from bot.settings import PREFIX, Settings, load, sample
from storage.base.database import connect
from storage.privacy import cleanup
from storage.queue import queue_statistics
from tests.contracts.storage_school import NOW
from tests.unit.bot.test_health import FakeChat

ROOT = Path(__file__).parents[3]
DEPLOY = ROOT / "deploy"
UNITS = sorted((DEPLOY / "systemd").iterdir())

# PostgreSQL's major version in Debian's releases (Debian's release notes, 12: 15; 13: 17).
POSTGRESQL_OF_DEBIAN = {"bookworm": "15", "trixie": "17"}


def _text(name: str) -> str:
    return (DEPLOY / name).read_text("utf-8")


def _settings_of(names) -> set[str]:
    return {name.removeprefix(PREFIX).lower() for name in names if name.startswith(PREFIX)} - {"settings"}


def _needs(program: str, package: str) -> str:
    """Return the program's path, or skip: it is no part of the project, and .ci/run installs it where it may."""
    found = shutil.which(program)
    if found is None:
        pytest.skip(f"{program} is not installed (on Debian: apt-get install {package})")
    return found


def verify_command(words: list[str]) -> None:
    """Hold a command line against the table of commands: the command, its subcommand, and every option."""
    command: click.Command = holdfast
    context = click.Context(holdfast, info_name="holdfast")
    while isinstance(command, click.Group) and words and not words[0].startswith("-"):
        found = command.get_command(context, words[0])
        assert found is not None, f"there is no command {words[0]!r}"
        command, words = found, words[1:]
        context = click.Context(command, info_name=command.name)
    if isinstance(command, click.Group):
        assert words == ["--help"], f"{command.name} needs a subcommand"
        return
    options = {name for parameter in command.params for name in (*parameter.opts, *parameter.secondary_opts)}
    unknown = [word for word in words if word.startswith("--") and word not in options]
    assert not unknown, f"{command.name} has no {unknown}"


# ---------------------------------------------------------------- settings


def test_the_settings_sample_is_what_the_program_would_write():
    assert _text("holdfast.toml.example") == sample() + "\n", (
        "The sample is stale. Renew it with: holdfast init - >deploy/holdfast.toml.example"
    )


def test_the_settings_sample_can_be_used_as_it_is(tmp_path, monkeypatch):
    for name in Settings.model_fields:
        monkeypatch.delenv(PREFIX + name.upper(), raising=False)
    path = tmp_path / "holdfast.toml"
    path.write_text(_text("holdfast.toml.example"))
    assert load(path) == Settings()


# ---------------------------------------------------------------- container


def _dockerfile() -> list[tuple[str, str]]:
    """Return instructions and what follows them, with continued lines joined and comments dropped."""
    lines = [line for line in _text("Dockerfile").splitlines() if not line.startswith("#")]
    joined = "\n".join(lines).replace("\\\n", " ")
    return [(line.split()[0], line.split(None, 1)[1]) for line in joined.splitlines() if line.strip()]


def _last_stage() -> list[tuple[str, str]]:
    steps = _dockerfile()
    return steps[max(number for number, (word, _) in enumerate(steps) if word == "FROM") :]


def test_the_dockerfile_has_known_instructions_and_named_base_images():
    known = {"FROM", "WORKDIR", "COPY", "RUN", "ENV", "USER", "VOLUME", "EXPOSE", "STOPSIGNAL"}
    known |= {"HEALTHCHECK", "ENTRYPOINT", "CMD"}
    assert {word for word, _ in _dockerfile()} <= known  # no ADD: nothing is fetched by address
    bases = [rest.split()[0] for word, rest in _dockerfile() if word == "FROM"]
    assert all(re.fullmatch(r"python:3\.\d+-slim-[a-z]+", base) for base in bases)


def test_the_image_installs_only_what_is_pinned_by_hash():
    installs = [rest for word, rest in _dockerfile() if word == "RUN" and "pip install" in rest]
    assert len(installs) == 2
    assert all(
        "--require-hashes" in step or ("--no-deps" in step and "--no-index" in step) for step in installs
    )


def test_the_image_runs_without_rights_and_can_be_asked_for_its_health():
    steps = dict(_last_stage())
    assert steps["USER"].isdigit()
    assert int(steps["USER"]) > 1000
    words = [word for word, _ in _last_stage()]
    assert words.index("USER") < words.index("ENTRYPOINT")
    assert "/healthz" in steps["HEALTHCHECK"]
    verify_command(json.loads(steps["CMD"]))


def test_the_image_knows_only_settings_that_exist():
    names = re.findall(r"\b(HOLDFAST_\w+)=", dict(_last_stage())["ENV"])
    assert _settings_of(names) <= set(Settings.model_fields)
    assert len(names) == 2


def test_what_the_dockerfile_copies_is_there_and_nothing_else_is_sent_to_the_builder():
    copied = [
        source
        for word, rest in _dockerfile()
        if word == "COPY" and "--from" not in rest
        for source in rest.split()[:-1]
    ]
    allowed = {line[1:] for line in _text("Dockerfile.dockerignore").splitlines() if line.startswith("!")}
    assert _text("Dockerfile.dockerignore").splitlines()[1] == "*"
    assert set(copied) == allowed
    assert all((ROOT / source).exists() for source in copied)


def test_the_installed_program_has_every_file(tmp_path):
    """What pip installs into the image: a table, a template or a word that is left out fails only much later."""
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)], cwd=ROOT, check=True
    )
    (wheel,) = tmp_path.glob("*.whl")
    packed = set(zipfile.ZipFile(wheel).namelist())
    there = {
        path.relative_to(ROOT).as_posix()
        for room in ("bot", "scheduler", "storage")
        for path in (ROOT / room).rglob("*")
        if path.is_file() and path.suffix != ".pyc"
    }
    assert there - packed == set()


# ---------------------------------------------------------------- compose


@pytest.fixture(scope="module")
def compose():
    return yaml.safe_load(_text("compose.yaml"))


def test_compose_runs_the_bot_locked_down(compose):
    bot = compose["services"]["bot"]
    assert bot["read_only"] is True
    assert bot["cap_drop"] == ["ALL"]
    assert "no-new-privileges:true" in bot["security_opt"]
    assert any(mount.startswith("/tmp:") for mount in bot["tmpfs"])  # noqa: S108 - in the container
    assert bot["depends_on"]["database"]["condition"] == "service_healthy"
    assert "ports" not in bot
    assert "ports" not in compose["services"]["database"]
    assert compose["networks"]["inside"]["internal"] is True
    assert compose["services"]["database"]["networks"] == ["inside"]


def test_compose_names_only_settings_commands_secrets_and_volumes_that_exist(compose):
    for service in compose["services"].values():
        assert set(service.get("secrets", ())) <= set(compose["secrets"])
        mounted = {mount.split(":")[0] for mount in service["volumes"] if mount[0] not in "./$"}
        assert mounted <= set(compose["volumes"])
        assert set(service["networks"]) <= set(compose["networks"])
    for name in ("bot", "backup"):
        verify_command(compose["services"][name]["command"])
        assert _settings_of(compose["services"][name]["environment"]) <= set(Settings.model_fields)
    secret = {name.upper() for name in compose["secrets"] if name.startswith("holdfast_")}
    assert _settings_of(secret) == {"database_url", "telegram_token"}
    build_file = compose["services"]["bot"]["build"]
    assert (DEPLOY / build_file["context"] / build_file["dockerfile"]).is_file()


def test_compose_has_a_database_that_the_image_can_save(compose):
    image = re.fullmatch(r"postgres:(\d+)-(\w+)", compose["services"]["database"]["image"])
    assert image is not None
    major, release = image.groups()
    base = next(rest for word, rest in _last_stage() if word == "FROM")
    assert base.endswith(release)
    assert POSTGRESQL_OF_DEBIAN[release] == major
    assert "postgresql-client" in dict(_last_stage())["RUN"]


# ---------------------------------------------------------------- systemd


def _unit(path: Path) -> dict[str, list[str]]:
    """Return the values of every key of a unit file, by ``Section.Key``."""
    found: dict[str, list[str]] = {}
    section = ""
    for line in path.read_text("utf-8").splitlines():
        if line.startswith("["):
            section = line.strip("[]")
        elif line and not line.startswith("#"):
            key, _, value = line.partition("=")
            found.setdefault(f"{section}.{key}", []).append(value)
    return found


def _services() -> list[Path]:
    return [path for path in UNITS if path.suffix == ".service"]


def test_the_service_is_watched_less_tightly_than_it_works():
    unit = _unit(DEPLOY / "systemd" / "holdfast.service")
    assert unit["Service.Type"] == ["notify"]
    assert int(unit["Service.WatchdogSec"][0]) >= 3 * Settings().tick_s
    assert unit["Service.Restart"] == ["on-failure"]
    # A database that is away for long does not end it for good.
    assert unit["Unit.StartLimitIntervalSec"] == ["0"]
    assert unit["Service.RestartPreventExitStatus"] == [f"{USAGE} {SETTINGS}"]
    assert unit["Service.LoadCredential"] == ["holdfast:/etc/holdfast/credentials"]


@pytest.mark.parametrize("path", _services(), ids=lambda path: path.name)
def test_services_run_a_command_that_exists_with_settings_that_exist(path):
    unit = _unit(path)
    (start,) = unit["Service.ExecStart"]
    program, *words = shlex.split(start)
    assert program == "/opt/holdfast/.venv/bin/holdfast"
    verify_command(words)
    names = {value.partition("=")[0] for value in unit["Service.Environment"]}
    assert _settings_of(names) <= set(Settings.model_fields)
    assert unit["Service.User"] == ["holdfast"]


@pytest.fixture
def placed_units(tmp_path):
    """Unit files that name a program which is here: the rest of them is looked at as it stands."""
    for path in UNITS:
        text = path.read_text("utf-8").replace("/opt/holdfast/.venv/bin/holdfast", sys.executable)
        (tmp_path / path.name).write_text(text)
    return tmp_path


@pytest.mark.parametrize("name", [path.name for path in UNITS])
def test_systemd_takes_the_unit_without_a_word(placed_units, name):
    program = _needs("systemd-analyze", "systemd")
    done = subprocess.run([program, "verify", str(placed_units / name)], capture_output=True, text=True)
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


def test_systemd_takes_a_misspelt_key_for_wrong(placed_units):
    """The check above can fail."""
    program = _needs("systemd-analyze", "systemd")
    unit = placed_units / "holdfast.service"
    unit.write_text(unit.read_text().replace("WatchdogSec=", "WatchdogSecs="))
    done = subprocess.run([program, "verify", str(unit)], capture_output=True, text=True)
    assert "WatchdogSecs" in done.stderr


@pytest.mark.parametrize("path", _services(), ids=lambda path: path.name)
def test_services_are_locked_down(placed_units, path):
    """systemd-analyze rates exposure from 0 to 10; below 2.5 it is what systemd calls OK, and ours is well in it."""
    program = _needs("systemd-analyze", "systemd")
    done = subprocess.run(
        [program, "security", "--offline=true", "--threshold=25", str(placed_units / path.name)],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout[-300:] + done.stderr


def test_the_timer_starts_the_backup_every_night():
    unit = _unit(DEPLOY / "systemd" / "holdfast-backup.timer")
    assert unit["Timer.OnCalendar"] == ["*-*-* 03:30"]
    assert unit["Timer.Persistent"] == ["yes"]
    assert (DEPLOY / "systemd" / "holdfast-backup.service").exists()


# ---------------------------------------------------------------- proxy


def test_the_proxy_lets_through_the_secret_path_and_nothing_else():
    text = _text("nginx.conf")
    pattern = re.search(r'location ~ "(.+)" \{', text)
    assert pattern is not None
    path = Webhook("https://bot.school.example", secret="s").path("123456:token")
    assert re.search(pattern[1], f"/{path}")
    assert not any(
        re.search(pattern[1], page) for page in ("/metrics", "/healthz", "/readyz", "/", f"/{path}x")
    )
    assert f"server {Settings().telegram_webhook_listen} " in text
    assert "client_max_body_size 1m;" in text
    assert _LARGEST_UPDATE == 1 << 20


def test_nginx_takes_the_proxy_sample(tmp_path):
    program = _needs("nginx", "nginx")
    openssl = _needs("openssl", "openssl")
    made = "req -x509 -newkey rsa:2048 -nodes -subj /CN=bot.school.example -keyout privkey.pem -out fullchain.pem"
    subprocess.run([openssl, *made.split()], cwd=tmp_path, check=True, capture_output=True)
    sample_text = _text("nginx.conf").replace("/etc/letsencrypt/live/bot.school.example", str(tmp_path))
    config = tmp_path / "nginx.conf"
    kinds = ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    temporary = " ".join(f"{kind}_temp_path {tmp_path}/{kind};" for kind in kinds)
    config.write_text(
        f"pid {tmp_path}/pid; error_log stderr; events {{}} http {{ access_log off; {temporary}\n{sample_text} }}"
    )
    done = subprocess.run([program, "-t", "-q", "-c", str(config)], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


# ---------------------------------------------------------------- alarms and dashboard


@pytest.fixture(scope="module")
def figures():
    """Names of all figures that a running bot shows, with those that a histogram adds."""
    import asyncio

    async def shown() -> str:
        db = connect("sqlite://")
        with db.begin() as session:
            queue_statistics.note_backup(session, NOW - timedelta(hours=1))
        try:
            app = build(db, HandClock(NOW), [FakeChat(heard_at=NOW)], AppContext())
            return (await Health(app, ROOT, "1").metrics()).decode()
        finally:
            db.close()

    found = set()
    for name, kind in re.findall(r"^# TYPE (\w+) (\w+)$", asyncio.run(shown()), re.MULTILINE):
        found |= {name} | (
            {f"{name}_{end}" for end in ("bucket", "sum", "count")} if kind == "histogram" else set()
        )
    return found | {"up"}  # Prometheus makes it itself


def _named(expression: str) -> set[str]:
    return set(re.findall(r"\b(?:holdfast|process)_\w+|\bup\b", expression))


def _rules():
    (group,) = yaml.safe_load(_text("watch/alerts.yaml"))["groups"]
    return group["rules"]


@pytest.mark.parametrize("rule", _rules(), ids=lambda rule: rule["alert"])
def test_alarms_ask_for_figures_that_exist_and_say_what_to_do(rule, figures):
    assert _named(rule["expr"])
    assert _named(rule["expr"]) <= figures
    assert rule["expr"].count("(") == rule["expr"].count(")")
    assert re.fullmatch(r"\d+[mhd]", rule["for"])
    assert rule["labels"]["severity"] in ("page", "ticket")
    assert rule["annotations"]["summary"].endswith(".")
    assert rule["annotations"]["what_to_do"].rstrip(".")


def test_every_alarm_is_explained_to_the_operator_and_no_other():
    explained = set(re.findall(r"^\| `(Holdfast\w+)`", _text("OPERATORS.md"), re.MULTILINE))
    assert explained == {rule["alert"] for rule in _rules()}


def test_the_dashboard_shows_figures_that_exist_without_overlap(figures):
    panels = json.loads(_text("watch/dashboard.json"))["panels"]
    cells = [
        (x, y)
        for place in (panel["gridPos"] for panel in panels)
        for x in range(place["x"], place["x"] + place["w"])
        for y in range(place["y"], place["y"] + place["h"])
    ]
    assert len(cells) == len(set(cells))
    assert max(x for x, _ in cells) < 24
    assert len({panel["id"] for panel in panels}) == len(panels)
    asked = {target["expr"] for panel in panels for target in panel["targets"]}
    assert all(_named(expression) and _named(expression) <= figures for expression in asked)


def test_every_figure_of_ours_is_on_the_dashboard_or_rings(figures):
    shown = {name for rule in _rules() for name in _named(rule["expr"])}
    for panel in json.loads(_text("watch/dashboard.json"))["panels"]:
        shown |= {name for target in panel["targets"] for name in _named(target["expr"])}
    ours = {
        name for name in figures if name.startswith("holdfast_") and not name.endswith(("_sum", "_count"))
    }
    seen = {name.removesuffix("_bucket") for name in shown}
    assert {name.removesuffix("_bucket") for name in ours} - seen == {"holdfast_info"} | {
        name for name in ours if name.endswith("_created")
    }


def test_prometheus_finds_the_rules_and_the_port_of_the_page():
    config = yaml.safe_load(_text("watch/prometheus.yaml"))
    assert all((DEPLOY / "watch" / name).exists() for name in config["rule_files"])
    assert config["scrape_configs"][0]["job_name"] == "holdfast"
    assert "127.0.0.1:9100" in _text("OPERATORS.md")


# ---------------------------------------------------------------- pages for people


def _commands(page: str) -> list[list[str]]:
    """Return every command line of ours in a page: in blocks, in running text, and through compose or systemd."""
    found = re.findall(r"^(?:    |       |\s{7})(holdfast .+)$", page, re.MULTILINE)
    found += re.findall(r"`(holdfast [^`]+)`", page)
    found += re.findall(r"bin/(holdfast .+)$", page, re.MULTILINE)
    found += [f"holdfast {rest}" for rest in re.findall(r"run --rm bot (.+)$", page, re.MULTILINE)]
    return [shlex.split(line, comments=True)[1:] for line in found]


def test_every_command_of_the_operators_page_exists_with_its_options():
    commands = _commands(_text("OPERATORS.md"))
    assert len(commands) > 20
    for words in commands:
        verify_command(words)


@pytest.mark.parametrize("words", [["teach"], ["db", "mend"], ["backup", "x", "--often"]])
def test_a_command_that_does_not_exist_is_found(words):
    with pytest.raises(AssertionError, match="no"):
        verify_command(words)


def test_the_operators_page_covers_what_an_operator_does():
    headings = re.findall(r"^## (.+)$", _text("OPERATORS.md"), re.MULTILINE)
    wanted = ["The first class in ten minutes", "Upgrade", "Move to PostgreSQL", "Back up and restore"]
    assert set(wanted) | {"Erase a student", "Read the alarms"} <= set(headings)
    assert headings[0] == "Before anything else"  # minors, the law and the school's rules come first


def test_the_operators_page_tells_the_retention_that_the_program_keeps():
    page = " ".join(_text("OPERATORS.md").split())
    assert f"its data retention period and {cleanup.GRACE.days} days are over" in page
    assert f"{cleanup.AFTER_TIMETABLE.days} days after the last date of its timetable" in page
    assert "a year after it was made" in page
    assert cleanup.PERIOD.days == 365


def test_files_and_settings_of_the_operators_page_exist():
    page = _text("OPERATORS.md")
    files = {name for name in re.findall(r"\bdeploy/[\w./-]*\w", page) if "/secrets" not in name}
    missing = {name for name in files - {"deploy/backups"} if not (ROOT / name).exists()}
    assert missing == set()
    shaped = re.findall(r"`((?:telegram|matrix|health|database|messages|default|log|data)_\w+)`", page)
    assert set(shaped) <= set(Settings.model_fields)


def test_the_newest_change_is_of_this_version_and_names_commands_that_exist():
    text = _text("CHANGES.md")
    version = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["version"]
    assert re.findall(r"^## ([\d.]+)", text, re.MULTILINE)[0] == version
    assert "backup" in COMMANDS
    assert "To do:" in text


@pytest.mark.parametrize("path", sorted(DEPLOY.glob("*.sh")), ids=lambda path: path.name)
def test_scripts_are_proper_shell(path):
    done = subprocess.run(["sh", "-n", str(path)], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
