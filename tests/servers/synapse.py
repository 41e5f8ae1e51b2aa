"""A Matrix homeserver of our own for the tests: Synapse in a virtual environment of its own, on loopback.

It starts in about two seconds and keeps Synapse's own limit on messages (0.2/s, ten at once); people made with
`Synapse.person` are exempted from it, as a school exempts its bot, unless a test wants to see the limit.
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import hmac
import secrets
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import Any

import aiohttp

ROOT = Path(__file__).parents[2]
PYTHON = ROOT / ".synapse-venv" / "bin" / "python"
SERVER = "localhost"
SECRET = "secret words"
_numbers = count(1)

_RELAXED = """
rc_registration: {per_second: 1000, burst_count: 1000}
rc_key_requests: {per_second: 1000, burst_count: 1000}
rc_admin_redaction: {per_second: 1000, burst_count: 1000}
rc_3pid_validation: {per_second: 1000, burst_count: 1000}
rc_media_create: {per_second: 1000, burst_count: 1000}
rc_room_creation: {per_second: 1000, burst_count: 1000}
rc_login:
  address: {per_second: 1000, burst_count: 1000}
  account: {per_second: 1000, burst_count: 1000}
  failed_attempts: {per_second: 1000, burst_count: 1000}
rc_joins:
  local: {per_second: 1000, burst_count: 1000}
  remote: {per_second: 1000, burst_count: 1000}
rc_joins_per_room: {per_second: 1000, burst_count: 1000}
rc_invites:
  per_room: {per_second: 1000, burst_count: 1000}
  per_user: {per_second: 1000, burst_count: 1000}
  per_issuer: {per_second: 1000, burst_count: 1000}
"""

_LOGGING = """
version: 1
formatters: {plain: {format: '%(asctime)s %(levelname)s %(name)s %(message)s'}}
handlers: {file: {class: logging.FileHandler, formatter: plain, filename: LOGFILE}}
root: {level: WARNING, handlers: [file]}
disable_existing_loggers: false
"""


def missing() -> str:
    """Say what the homeserver needs that is not there; empty when nothing is missing."""
    return "" if PYTHON.exists() else "no Matrix homeserver in .synapse-venv: run sh deploy/servers.sh"


class Synapse:
    """A homeserver that can be stopped and started again with everything that it knows."""

    def __init__(self, home: Path) -> None:
        self.home = home
        self.port = _free_port()
        self.secret = secrets.token_hex(8)
        self._process: subprocess.Popen[bytes] | None = None
        self._admin = ""
        _configure(home, self.port, self.secret)

    @property
    def url(self) -> str:
        """Where it listens."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start it and wait until it answers."""
        config = str(self.home / "homeserver.yaml")
        with (self.home / "output").open("ab") as output:
            self._process = subprocess.Popen(
                [str(PYTHON), "-m", "synapse.app.homeserver", "-c", config],
                cwd=self.home,
                stdout=output,
                stderr=output,
            )
        for _ in range(600):
            if self._process.poll() is not None:
                break
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), timeout=1):
                return
            time.sleep(0.1)
        raise RuntimeError(f"The homeserver did not start: {(self.home / 'output').read_text()[-2000:]}")

    def stop(self, *, hard: bool = False) -> None:
        """Stop it, or kill it; what it was told is kept."""
        process, self._process = self._process, None
        if process is not None and process.poll() is None:
            (process.kill if hard else process.terminate)()
            process.wait(20)

    async def call(self, method: str, path: str, body: Any = None, token: str = "") -> dict[str, Any]:
        """Make a request and return the answer."""
        headers = {"Authorization": f"Bearer {token}"} if token else {}
        async with (
            aiohttp.ClientSession() as http,
            http.request(method, self.url + path, json=body, headers=headers) as response,
        ):
            answer: dict[str, Any] = await response.json()
            assert response.status == 200, f"{path}: {response.status} {answer}"
            return answer

    async def register(self, name: str, password: str, *, admin: bool = False) -> str:
        """Make an account and return an access token of it."""
        path = "/_synapse/admin/v1/register"
        nonce = (await self.call("GET", path))["nonce"]
        words = [nonce, name, password, "admin" if admin else "notadmin"]
        mac = hmac.new(self.secret.encode(), "\0".join(words).encode(), hashlib.sha1).hexdigest()
        body = {"nonce": nonce, "username": name, "password": password, "admin": admin, "mac": mac}
        return str((await self.call("POST", path, body))["access_token"])

    async def person(self, name: str, password: str = SECRET, *, limited: bool = False) -> str:
        """Make an account with a name that nobody has yet, and return its full id."""
        local = f"{name}{next(_numbers)}"
        await self.register(local, password)
        user = f"@{local}:{SERVER}"
        if not limited:
            free = {"messages_per_second": 0, "burst_count": 0}
            await self.admin("POST", f"/_synapse/admin/v1/users/{user}/override_ratelimit", free)
        return user

    async def admin(self, method: str, path: str, body: Any = None) -> dict[str, Any]:
        """Make a request as the homeserver's administrator."""
        if not self._admin:
            self._admin = await self.register("admin", secrets.token_hex(8), admin=True)
        return await self.call(method, path, body, self._admin)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _configure(home: Path, port: int, secret: str) -> None:
    seed = base64.b64encode(secrets.token_bytes(32)).decode().rstrip("=")
    (home / "signing.key").write_text(f"ed25519 a_test {seed}\n")
    (home / "log.yaml").write_text(_LOGGING.replace("LOGFILE", str(home / "log")))
    (home / "homeserver.yaml").write_text(f"""
server_name: {SERVER}
pid_file: {home}/pid
listeners:
  - {{port: {port}, bind_addresses: [127.0.0.1], type: http, resources: [{{names: [client, media]}}]}}
database: {{name: sqlite3, args: {{database: {home}/homeserver.db}}}}
registration_shared_secret: {secret}
macaroon_secret_key: {secret}
form_secret: {secret}
signing_key_path: {home}/signing.key
media_store_path: {home}/media
log_config: {home}/log.yaml
report_stats: false
trusted_key_servers: []
federation_domain_whitelist: []
presence: {{enabled: false}}
url_preview_enabled: false
bcrypt_rounds: 4
{_RELAXED}
""")


@contextmanager
def running() -> Iterator[Synapse]:
    """Start a homeserver in a folder of its own and stop it afterwards."""
    with tempfile.TemporaryDirectory(prefix="hfhs") as folder:
        server = Synapse(Path(folder))
        try:
            server.start()
            yield server
        finally:
            server.stop(hard=True)
