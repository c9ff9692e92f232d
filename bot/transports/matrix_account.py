"""Matrix: logging in, and keeping the login with its keys, so that a restart is the same device."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nio import ErrorResponse

from bot.transports.matrix_client import Client, RefusedError

_DEVICE_NAME = "Rinse Tank"
_FINAL = {"M_FORBIDDEN", "M_UNKNOWN_TOKEN", "M_MISSING_TOKEN", "M_USER_DEACTIVATED", "M_INVALID_USERNAME"}


class LoginRefusedError(Exception):
    """The homeserver does not know this user or this token; the message says so in a line."""


@dataclass(frozen=True)
class Account:
    """Who the bot is on Matrix. Give a password, or else a token. `folder` keeps its login and its keys."""

    homeserver: str
    user: str
    folder: Path
    password: str | None = None
    token: str | None = None

    @property
    def file(self) -> Path:
        """Return where the login is kept."""
        return self.folder / "login.json"


async def log_in(client: Client, account: Account) -> None:
    """Log in: as before if that was kept, else by token or password. LoginRefusedError if that is refused, RefusedError if it may yet work."""
    kept = _kept(account)
    if kept is not None and account.token in {None, kept["given"]}:
        client.restore_login(kept["user"], kept["device"], kept["token"])
    elif account.token is not None:
        await _by_token(client, account, account.token)
    else:
        await _by_password(client, account)


async def renew(client: Client, account: Account, *, soft: bool) -> None:
    """Log in again after a token expired; unless `soft`, the old device is gone for good and its keys go with it.

    What was kept stays until the new login is there: whoever is killed in between is still the same device.
    """
    if account.password is None:
        raise LoginRefusedError("the token is no longer valid: set a new one")
    gone = client.device_id
    if not soft:
        if client.store is not None:
            client.store.database.close()
        client.device_id, client.olm, client.store = "", None, None
        client.rooms.clear()  # who is in them is asked again, or nobody would be given the new device's keys
    client.access_token = ""
    await _by_password(client, account)
    if not soft and gone and gone != client.device_id:
        for keys in account.folder.glob(f"*_{gone}.db"):
            keys.unlink()


async def _by_token(client: Client, account: Account, token: str) -> None:
    client.access_token = token
    who = await client.whoami()
    if isinstance(who, ErrorResponse):
        client.access_token = ""
        if account.password is None or who.status_code not in _FINAL:
            raise _refusal("token", who)
        await _by_password(client, account)
        return
    _keep(account, who.user_id, who.device_id or "", token)
    client.restore_login(who.user_id, who.device_id or "", token)


async def _by_password(client: Client, account: Account) -> None:
    if account.password is None:
        raise LoginRefusedError("set RINSETANK_MATRIX_PASSWORD or RINSETANK_MATRIX_TOKEN")
    answer = await client.login(account.password, device_name=_DEVICE_NAME)
    if isinstance(answer, ErrorResponse):
        raise _refusal("password", answer)
    _keep(account, answer.user_id, answer.device_id, answer.access_token)


def _refusal(what: str, answer: ErrorResponse) -> Exception:
    """Tell a login that is wrong from a homeserver that is not well: only the first is of no use to try again."""
    if answer.status_code in _FINAL:
        return LoginRefusedError(f"the {what} was refused ({answer.status_code})")
    return RefusedError(answer)


def _kept(account: Account) -> dict[str, Any] | None:
    try:
        kept = json.loads(account.file.read_text())
        whole = {"given": None, **kept}
    except (OSError, ValueError, TypeError):
        return None
    named = all(isinstance(whole.get(name), str) for name in ("user", "device", "token"))
    return whole if named and whole["user"] == account.user else None


def _keep(account: Account, user: str, device: str, token: str) -> None:
    """Keep a login whole or not at all; `given` is the token of the settings at that time, which may have been replaced since."""
    new = account.file.with_suffix(".new")
    new.touch(mode=0o600)
    new.write_text(json.dumps({"user": user, "device": device, "token": token, "given": account.token}))
    new.replace(account.file)
