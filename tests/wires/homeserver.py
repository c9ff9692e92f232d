"""A real Matrix homeserver for tests: Synapse in a process of its own, on loopback only, gone when the tests are.

The file is also the program of that process: it runs Synapse and ends it when the test run that started it is gone.
"""

import base64
import hashlib
import hmac
import json
import os
import secrets
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
import weakref
from pathlib import Path
from typing import Any

SERVER_NAME = "reef.test"
UNLIMITED = (100_000.0, 100_000)
START_WITHIN = 60.0
STOP_WITHIN = 10.0
# Below the range systems hand out for outgoing connections, so nobody takes the port while the server is down.
PORTS = range(18_000, 30_000)


class Homeserver:
    """A homeserver with open limits, or with a real message limit where a test asks for one."""

    def __init__(self, folder: Path, rc_message: tuple[float, int] = UNLIMITED) -> None:
        self.folder = folder
        self.port = _free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self._secret = secrets.token_hex(16)
        self._warden: str | None = None
        self._process: subprocess.Popen[bytes] | None = None
        self._end: weakref.finalize[..., Any] | None = None
        self._config = _write_config(folder, self.port, self._secret, rc_message)

    def start(self) -> None:
        """Start the server and return once it answers; raise with the tail of its log where it does not."""
        if self._process is not None:
            raise RuntimeError("the homeserver runs already")
        with (self.folder / "output.log").open("ab") as output:
            self._process = subprocess.Popen(
                [sys.executable, "-P", __file__, str(self._config)],
                stdin=subprocess.PIPE,
                stdout=output,
                stderr=output,
                # A group of its own keeps the terminal's Ctrl-C away; staying in the session lets the system
                # wake a paused server once the test run is gone, so that it can end itself.
                process_group=0,
            )
        self._end = weakref.finalize(self, _end, self._process)
        self._wait_until_it_answers(self._process)

    def stop(self) -> None:
        """End the server, gently first; its data stays."""
        if self._end is not None:
            self._end()
        self._end = self._process = None

    def restart(self) -> None:
        """Stop and start on the same data and the same port."""
        self.stop()
        self.start()

    def pause(self) -> None:
        """Let every request hang until resume()."""
        self._running().send_signal(signal.SIGSTOP)

    def resume(self) -> None:
        """Go on answering after pause()."""
        self._running().send_signal(signal.SIGCONT)

    def user_id(self, localpart: str) -> str:
        """Name a user of this server in full."""
        return f"@{localpart}:{SERVER_NAME}"

    def register(self, localpart: str, password: str = "kelp", *, admin: bool = False) -> str:
        """Create the user, or leave the one that exists as it is; return the user id."""
        try:
            self._create(localpart, password, admin=admin)
        except urllib.error.HTTPError as error:
            with error:
                if json.load(error).get("errcode") != "M_USER_IN_USE":
                    raise
        return self.user_id(localpart)

    def override_ratelimit(self, user_id: str) -> None:
        """Lift the message limit for one user, as an operator does for a bot."""
        path = f"/_synapse/admin/v1/users/{urllib.parse.quote(user_id)}/override_ratelimit"
        self.call("POST", path, {"messages_per_second": 0, "burst_count": 0}, token=self.warden_token())

    def warden_token(self) -> str:
        """Return the access token of an administrator, created at first need."""
        if self._warden is None:
            self._warden = self._create(f"warden-{secrets.token_hex(4)}", "kelp", admin=True)["access_token"]
        return self._warden

    def call(
        self, method: str, path: str, body: dict[str, Any] | None = None, *, token: str | None = None
    ) -> dict[str, Any]:
        """Make one request past every client library and return the answer; refusals raise HTTPError."""
        headers = {"Content-Type": "application/json"} | (
            {"Authorization": f"Bearer {token}"} if token else {}
        )
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(self.url + path, data, headers, method=method)
        with urllib.request.urlopen(request, timeout=30) as answer:
            return dict(json.load(answer))

    def log_tail(self, lines: int = 30) -> str:
        """Return the last lines of what the server wrote."""
        written = [self.folder / name for name in ("output.log", "server.log")]
        texts = [path.read_text(errors="replace") for path in written if path.exists()]
        return "\n".join("\n".join(texts).splitlines()[-lines:])

    def _create(self, localpart: str, password: str, *, admin: bool) -> dict[str, Any]:
        path = "/_synapse/admin/v1/register"
        nonce = self.call("GET", path)["nonce"]
        parts = (nonce, localpart, password, "admin" if admin else "notadmin")
        proof = hmac.new(self._secret.encode(), "\0".join(parts).encode(), hashlib.sha1).hexdigest()
        user = {"nonce": nonce, "username": localpart, "password": password, "admin": admin, "mac": proof}
        return self.call("POST", path, user)

    def _wait_until_it_answers(self, process: subprocess.Popen[bytes]) -> None:
        until = time.monotonic() + START_WITHIN
        while time.monotonic() < until and process.poll() is None:
            try:
                self.call("GET", "/_matrix/client/versions")
            except OSError:
                time.sleep(0.05)
            else:
                return
        self.stop()
        raise RuntimeError(f"the homeserver did not start (exit {process.returncode}):\n{self.log_tail()}")

    def _running(self) -> subprocess.Popen[bytes]:
        if self._process is None:
            raise RuntimeError("the homeserver is not running")
        return self._process


def why_not() -> str | None:
    """Say why the homeserver cannot run on this machine, or None where its package is whole."""
    probe = [sys.executable, "-P", "-c", "import synapse.app.homeserver"]
    tried = subprocess.run(probe, capture_output=True, text=True, check=False, timeout=START_WITHIN)
    return None if tried.returncode == 0 else (tried.stderr.strip() or "no reason given").splitlines()[-1]


def _end(process: subprocess.Popen[bytes]) -> None:
    """End a server process: woken if it was paused, asked, then killed."""
    if process.poll() is None:
        process.send_signal(signal.SIGCONT)
        process.terminate()
        try:
            process.wait(STOP_WITHIN)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
    if process.stdin is not None:
        process.stdin.close()


def _free_port() -> int:
    while True:
        port = secrets.choice(PORTS)
        with socket.socket() as tried:
            try:
                tried.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port


def _write_config(folder: Path, port: int, secret: str, rc_message: tuple[float, int]) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    seed = base64.b64encode(secrets.token_bytes(32)).decode().rstrip("=")
    (folder / "signing.key").write_text(f"ed25519 a_reef {seed}\n")
    (folder / "logging.json").write_text(json.dumps(_logging(folder)))
    config = folder / "homeserver.json"  # JSON is YAML too
    config.write_text(json.dumps(_settings(folder, port, secret, rc_message), indent=1))
    return config


def _settings(folder: Path, port: int, secret: str, rc_message: tuple[float, int]) -> dict[str, Any]:
    listener = {
        "port": port,
        "bind_addresses": ["127.0.0.1"],
        "type": "http",
        "tls": False,
        "resources": [{"names": ["client", "media"]}],
    }
    return {
        "server_name": SERVER_NAME,
        "public_baseurl": f"http://127.0.0.1:{port}/",
        "listeners": [listener],
        "database": {"name": "sqlite3", "args": {"database": str(folder / "homeserver.db")}},
        "media_store_path": str(folder / "media"),
        "signing_key_path": str(folder / "signing.key"),
        "log_config": str(folder / "logging.json"),
        "registration_shared_secret": secret,
        "macaroon_secret_key": secrets.token_hex(16),
        "form_secret": secrets.token_hex(16),
        "enable_registration": False,
        "report_stats": False,
        "suppress_key_server_warning": True,
        "trusted_key_servers": [],
        "federation_domain_whitelist": [],
        "presence": {"enabled": False},
        "push": {"enabled": False},
        "caches": {"global_factor": 0.5},
        "stats": {"enabled": False},
        "bcrypt_rounds": 4,  # the cheapest there is: the passwords are not secret
        **_limits(rc_message),
    }


def _limits(rc_message: tuple[float, int]) -> dict[str, Any]:
    flat = (
        "registration registration_token_validity admin_redaction joins_per_room key_requests 3pid_validation"
    )
    flat += " third_party_invite media_create delayed_event_mgmt room_creation reports user_directory"
    nested = {
        "login": ("address", "account", "failed_attempts"),
        "joins": ("local", "remote"),
        "invites": ("per_room", "per_user", "per_issuer"),
        "presence": ("per_user",),
    }
    return {
        "rc_message": _rate(rc_message),
        **{f"rc_{name}": _rate(UNLIMITED) for name in flat.split()},
        **{f"rc_{name}": {part: _rate(UNLIMITED) for part in parts} for name, parts in nested.items()},
    }


def _rate(limit: tuple[float, int]) -> dict[str, float]:
    return {"per_second": limit[0], "burst_count": limit[1]}


def _logging(folder: Path) -> dict[str, Any]:
    file = {"class": "logging.FileHandler", "filename": str(folder / "server.log"), "formatter": "line"}
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
        "handlers": {"file": file},
        "root": {"level": "WARNING", "handlers": ["file"]},
    }


def _serve(config: str) -> None:
    """Run Synapse until told to stop, or until the process that holds the other end of standard input is gone."""
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    threading.Thread(target=_end_with_the_tests, daemon=True).start()
    from synapse.app.homeserver import main  # noqa: PLC0415 - the tests must not need it to read this file

    sys.argv = ["synapse", "-c", config]
    main()


def _end_with_the_tests() -> None:
    """Wait for the end of standard input, which comes when its other end is closed or gone, then end at once."""
    # Not through sys.stdin: its lock would be held when the interpreter shuts down.
    while os.read(0, 1):
        pass
    os.kill(os.getpid(), signal.SIGKILL)


if __name__ == "__main__":
    _serve(sys.argv[1])
