import io
import logging

import pytest

from bot import logs

TOKEN = "123456789:AAHfKq3x8v9b0c1d2e3f4g5h6i7j8k9l0m1"


@pytest.fixture
def stream():
    root = logging.getLogger()
    before = root.handlers[:], root.level
    out = io.StringIO()
    logs.set_up("DEBUG", stream=out)
    yield out
    root.handlers[:], _ = before
    root.setLevel(before[1])
    logging.captureWarnings(False)


def test_a_token_in_any_line_is_masked(stream):
    logging.getLogger("bot").error("POST https://api.example/bot%s/sendMessage failed", TOKEN)
    assert "sendMessage failed" in stream.getvalue()
    assert "AAHfKq" not in stream.getvalue()


def test_a_token_in_a_traceback_is_masked(stream):
    try:
        raise ValueError(f"https://api.example/bot{TOKEN}/getMe")
    except ValueError:
        logging.getLogger("bot").exception("Failed")
    assert "ValueError" in stream.getvalue()
    assert "AAHfKq" not in stream.getvalue()


@pytest.mark.parametrize("name", ["httpx", "httpcore", "nio"])
def test_libraries_that_log_addresses_are_quiet(stream, name):
    logging.getLogger(name).info("HTTP Request: POST https://api.example/bot%s/getUpdates", TOKEN)
    assert stream.getvalue() == ""


def test_mask_hides_a_password_in_an_address():
    assert logs.mask("postgresql://holdfast:geheim@db/holdfast") == "postgresql://***@db/holdfast"


@pytest.mark.parametrize(
    ("text", "masked"),
    [
        ("host=db password=geheim user=h", "host=db password=*** user=h"),
        (
            "postgresql://h@db/holdfast?password=geheim&sslmode=require",
            "postgresql://h@db/holdfast?password=***&sslmode=require",
        ),
        ("{'Authorization': 'Bearer geheim-0815'}", "{'Authorization': 'Bearer ***'}"),
        ("token mct_1a2B3c4D5e6F7g8H refused", "token *** refused"),
    ],
)
def test_mask_hides_every_kind_of_secret_that_libraries_write(text, masked):
    assert logs.mask(text) == masked
