import tomllib
from pathlib import Path

import pytest

from bot.settings import SECRETS, Settings, SettingsError, load, sample


@pytest.fixture(autouse=True)
def _clean_environment(monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    for name in Settings.model_fields:
        monkeypatch.delenv(f"HOLDFAST_{name.upper()}", raising=False)
    monkeypatch.delenv("HOLDFAST_SETTINGS", raising=False)
    monkeypatch.delenv("CREDENTIALS_DIRECTORY", raising=False)


def _file(text: str, mode: int = 0o600) -> Path:
    path = Path("holdfast.toml")
    path.write_text(text)
    path.chmod(mode)
    return path


def test_load_without_anything_has_working_defaults():
    settings = load()
    assert settings.database == "sqlite:///holdfast-data/holdfast.db"
    assert settings.telegram_token is None


def test_load_environment_wins_over_the_file(monkeypatch):
    _file('school = "Tarn Bridge"\nlog_level = "debug"\n')
    monkeypatch.setenv("HOLDFAST_SCHOOL", "Low Fell")
    settings = load()
    assert settings.school == "Low Fell"
    assert settings.log_level == "DEBUG"


def test_load_names_every_wrong_setting_at_once(monkeypatch):
    monkeypatch.setenv("HOLDFAST_LOG_LEVEL", "loud")
    monkeypatch.setenv("HOLDFAST_DEFAULT_ZONE", "Mars/Olympus")
    with pytest.raises(SettingsError) as caught:
        load()
    assert str(caught.value) == (
        'HOLDFAST_DEFAULT_ZONE is "Mars/Olympus": use an IANA name such as Europe/London.\n'
        'HOLDFAST_LOG_LEVEL is "loud": use DEBUG, INFO, WARNING or ERROR.\n'
        "Change it in the environment."
    )


def test_load_names_an_unknown_key_of_the_file():
    _file('telegram_tokn = "1:abc"\n')
    with pytest.raises(SettingsError, match=r"HOLDFAST_TELEGRAM_TOKN.*there is no such setting") as caught:
        load()
    assert "1:abc" not in str(caught.value)  # it was meant to be a secret


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("HEALTH_LISTEN", "127.0.0.1:99999", "use host:port"),
        ("HEALTH_LISTEN", "9100/tcp", "use host:port"),
        ("DEFAULT_LANGUAGE", "xx", "use one of en, de"),
    ],
)
def test_load_refuses_what_the_program_could_not_use(name, value, said, monkeypatch):
    monkeypatch.setenv(f"HOLDFAST_{name}", value)
    with pytest.raises(SettingsError, match=f'{name} is "{value}": {said}'):
        load()


def test_load_refuses_a_webhook_secret_that_telegram_would_refuse_and_does_not_show_it(monkeypatch):
    monkeypatch.setenv("HOLDFAST_TELEGRAM_WEBHOOK_SECRET", "with a blank")
    with pytest.raises(
        SettingsError, match="TELEGRAM_WEBHOOK_SECRET: use 1 to 256 of A-Z a-z 0-9 _ -"
    ) as caught:
        load()
    assert "blank" not in str(caught.value)


def test_load_refuses_webhooks_that_are_received_nowhere(monkeypatch):
    monkeypatch.setenv("HOLDFAST_TELEGRAM_WEBHOOK_URL", "https://bot.school.example")
    monkeypatch.setenv("HOLDFAST_TELEGRAM_WEBHOOK_SECRET", "s3cret")
    monkeypatch.setenv("HOLDFAST_TELEGRAM_WEBHOOK_LISTEN", "")
    with pytest.raises(SettingsError, match="TELEGRAM_WEBHOOK_LISTEN is needed too"):
        load()


def test_load_takes_every_line_of_the_sample_without_its_sign():
    keys = [f"# {name} = " for name in Settings.model_fields]
    lines = [line.removeprefix("# ") for line in sample().splitlines() if line.startswith(tuple(keys))]
    _file("\n".join(lines))
    assert load() == Settings()


def test_load_takes_the_empty_credential_of_a_chat_that_is_off(monkeypatch, tmp_path):
    (tmp_path / "holdfast_telegram_token").write_text("\n")
    monkeypatch.setenv("CREDENTIALS_DIRECTORY", str(tmp_path))
    assert load().telegram_token is None


@pytest.mark.parametrize(
    "address", ["postgresql://h:geheim@db/holdfast", "postgresql://h@db/x?password=geheim"]
)
def test_load_refuses_a_password_in_an_address_in_a_file_that_others_can_read(address):
    _file(f'database_url = "{address}"\n', mode=0o644)
    with pytest.raises(SettingsError, match=r"the password in database_url .*chmod 600") as caught:
        load()
    assert "geheim" not in str(caught.value)
    _file(f'database_url = "{address}"\n', mode=0o600)
    assert load().database == address
    _file('database_url = "postgresql://h@db:5432/holdfast"\n', mode=0o644)
    assert load().database_url


def test_load_refuses_a_secret_in_a_file_that_others_can_read():
    _file('telegram_token = "123456:abcdefghijklmnopqrstuvwxyz"\n', mode=0o644)
    with pytest.raises(SettingsError, match="chmod 600") as caught:
        load()
    assert "abcdef" not in str(caught.value)


def test_load_says_where_toml_is_broken():
    _file("school = Tarn\n")
    with pytest.raises(SettingsError, match=r"holdfast\.toml is not valid TOML.*line 1"):
        load()


def test_load_names_a_missing_file():
    with pytest.raises(SettingsError, match=r"There is no settings file elsewhere\.toml"):
        load(Path("elsewhere.toml"))


def test_load_wants_a_matrix_account_whole(monkeypatch):
    monkeypatch.setenv("HOLDFAST_MATRIX_HOMESERVER", "https://matrix.example")
    with pytest.raises(SettingsError, match="HOLDFAST_MATRIX_USER is needed"):
        load()


def test_load_reads_credentials_of_the_service_manager(monkeypatch, tmp_path):
    (tmp_path / "holdfast_telegram_token").write_text("123456:secretsecretsecretsecret")
    monkeypatch.setenv("CREDENTIALS_DIRECTORY", str(tmp_path))
    token = load().telegram_token
    assert token is not None
    assert token.get_secret_value() == "123456:secretsecretsecretsecret"


def test_load_does_without_credentials_where_the_runtime_mounts_none(monkeypatch, tmp_path):
    monkeypatch.setenv("CREDENTIALS_DIRECTORY", str(tmp_path / "missing"))
    assert load().telegram_token is None


def test_sample_shows_every_key_and_is_valid_toml():
    text = sample({"school": 'The "Old" School'})
    assert tomllib.loads(text) == {"school": 'The "Old" School'}
    for name in Settings.model_fields:
        assert f"\n# {name} = " in text or f"\n{name} = " in text
    keys = [f"# {name} = " for name in Settings.model_fields]
    lines = [line.removeprefix("# ") for line in text.splitlines() if line.startswith(tuple(keys))]
    assert len(tomllib.loads("\n".join(lines))) == len(Settings.model_fields) - 1


def test_secrets_are_never_shown():
    settings = Settings(telegram_token="123456:abcdefgh")  # type: ignore[arg-type]
    assert "abcdefgh" not in repr(settings)
    assert set(Settings.model_fields) >= SECRETS
