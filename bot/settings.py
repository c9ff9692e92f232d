"""Settings from the environment: the only file that reads it. Each is named RINSETANK_ and the field in capitals.

Where the environment is silent, a file of that name in small letters under `SECRETS` is read, as containers mount them.
"""

import re
from datetime import timedelta
from pathlib import Path
from urllib.parse import unquote, urlsplit
from zoneinfo import available_timezones

from platformdirs import user_data_path
from pydantic import Field, SecretStr, ValidationInfo, field_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

from bot.access import Mode
from scheduler.limits import MATRIX_PER_SECOND, SECRET_CHARS
from scheduler.prune import Keep

SECRETS = Path("/run/secrets")


_LEAST_DAYS = {"keep_updates_days": 2, "keep_notices_days": 7, "keep_journal_days": 30}
"""Telegram brings an update again for a day; a reminder may be tried again for hours; an edit reaches back a month."""


def _listed(told: str) -> list[str]:
    return [one.strip() for one in told.split(",") if one.strip()]


class Settings(BaseSettings):
    """What a place may want to set. Everything has a default that works."""

    model_config = SettingsConfigDict(
        env_prefix="RINSETANK_", extra="ignore", secrets_dir=SECRETS if SECRETS.is_dir() else None
    )

    db: str | None = Field(
        default=None,
        repr=False,
        description="SQLAlchemy URL of the database; default: a SQLite file in the user's data folder",
    )
    zone: str = Field(default="UTC", description="time zone of a new chat in the terminal")
    web_url: str | None = Field(
        default=None,
        description="where the web endpoint is reached from outside, such as https://kit.example; default: no links are given",
    )
    web_host: str = Field(default="127.0.0.1", description="address the web endpoint listens on")
    web_port: int = Field(default=8790, ge=1, le=65535, description="port the web endpoint listens on")
    metrics_port: int | None = Field(
        default=None,
        ge=1,
        le=65535,
        description="port of its own for the metrics; default: they are on the port of the web endpoint",
    )
    metrics_token: SecretStr | None = Field(
        default=None,
        description="what a reader of the metrics sends as bearer token; default: whoever asks directly, not through a proxy",
    )
    telegram_token: SecretStr | None = Field(
        default=None, description="token of the bot on Telegram; default: that wire is off"
    )
    telegram_webhook_secret: SecretStr | None = Field(
        default=None,
        description="1 to 256 of A-Z a-z 0-9 _ -; with RINSETANK_WEB_URL it has Telegram deliver updates there; default: polling",
    )
    telegram_api: str = Field(
        default="https://api.telegram.org", description="where the Bot API is, for a server of your own"
    )
    matrix_homeserver: str | None = Field(
        default=None,
        description="address of the homeserver, such as https://matrix.reef.example; default: that wire is off",
    )
    matrix_user: str | None = Field(
        default=None, description="the bot's user there, such as @rinse:reef.example"
    )
    matrix_password: SecretStr | None = Field(default=None, description="its password")
    matrix_token: SecretStr | None = Field(
        default=None, description="an access token of its own in place of the password"
    )
    matrix_servers: str = Field(
        default="",
        description="servers whose people may invite it, with commas between; default: its own server alone",
    )
    matrix_per_second: float = Field(
        default=MATRIX_PER_SECOND,
        gt=0,
        le=100,
        description="messages a second that the homeserver lets it send",
    )
    matrix_loud: bool = Field(
        default=False,
        description="send reminders as plain messages: many programs do not ring for notices",
    )
    access: Mode = Field(
        default=Mode.OPEN,
        description="who may write: open (everybody), list (those of RINSETANK_ALLOWED), invite (those and whom a code lets in)",
    )
    allowed: str = Field(
        default="",
        description="people and chats that may always write, with commas between: telegram:4711, matrix:@ilka:reef.example",
    )
    backup_dir: Path | None = Field(
        default=None,
        description="folder for backups of a SQLite database; default: `serve` makes none",
    )
    backup_every_h: float = Field(default=24, ge=0.25, description="hours between two backups")
    backup_keep: int = Field(default=7, ge=1, description="how many backups are kept")
    keep_updates_days: int = Field(
        default=30,
        ge=0,
        description="days that the id of a handled update is kept, so that it never acts twice; at least 2, 0 for ever",
    )
    keep_notices_days: int = Field(
        default=90,
        ge=0,
        description="days that reminders which were sent, cancelled or given up are kept; at least 7, 0 for ever",
    )
    keep_journal_days: int = Field(
        default=180,
        ge=0,
        description="days that a message can be taken back or edited; at least 30, 0 for ever",
    )
    keep_files_days: int = Field(
        default=30,
        ge=0,
        description="days that a dive file waits for an answer; counted ones are emptied with the journal; 0 for ever",
    )
    log_level: str = Field(default="WARNING", description="DEBUG, INFO, WARNING or ERROR")

    @field_validator("zone")
    @classmethod
    def _known(cls, zone: str) -> str:
        if zone not in available_timezones():
            raise ValueError(f"{zone!r} is no time zone I know: try Europe/Berlin")
        return zone

    @field_validator("web_url")
    @classmethod
    def _reachable(cls, url: str | None) -> str | None:
        if url is not None and not url.startswith(("https://", "http://")):
            raise ValueError(f"{url!r} is no web address: try https://kit.example")
        return url

    @field_validator("telegram_webhook_secret")
    @classmethod
    def _fits_a_header(cls, secret: SecretStr | None) -> SecretStr | None:
        if secret is not None and not re.fullmatch(
            rf"[A-Za-z0-9_-]{{1,{SECRET_CHARS}}}", secret.get_secret_value()
        ):
            raise ValueError("a webhook secret has 1 to 256 of A-Z a-z 0-9 _ -")
        return secret

    @field_validator("allowed")
    @classmethod
    def _of_a_wire(cls, told: str) -> str:
        for one in _listed(told):
            if not one.startswith(("telegram:", "matrix:")):
                raise ValueError(f"{one!r} names no wire: try telegram:4711 or matrix:@ilka:reef.example")
        return told

    @field_validator(
        "telegram_token",
        "telegram_webhook_secret",
        "matrix_password",
        "matrix_token",
        "metrics_token",
        "metrics_port",
        "backup_dir",
        mode="before",
    )
    @classmethod
    def _empty_is_off(cls, told: object) -> object:
        return None if told == "" else told

    @field_validator("keep_updates_days", "keep_notices_days", "keep_journal_days")
    @classmethod
    def _long_enough(cls, days: int, info: ValidationInfo) -> int:
        least = _LEAST_DAYS[info.field_name or ""]
        if 0 < days < least:
            raise ValueError(f"{days} days are too few: at least {least}, or 0 for ever")
        return days

    @field_validator("matrix_user")
    @classmethod
    def _whole(cls, user: str | None) -> str | None:
        if user is not None and not re.fullmatch(r"@[^:\s]+:\S+", user):
            raise ValueError(f"{user!r} is no Matrix user: try @rinse:reef.example")
        return user

    @property
    def secrets(self) -> list[str]:
        """Return what must never be logged or said."""
        held = (
            self.telegram_token,
            self.telegram_webhook_secret,
            self.matrix_password,
            self.matrix_token,
            self.metrics_token,
        )
        password = urlsplit(self.db).password if self.db else None
        return [s.get_secret_value() for s in held if s is not None] + (
            [password, unquote(password)] if password else []
        )

    @property
    def keep(self) -> Keep:
        """Return how long what is kept."""
        days = (self.keep_updates_days, self.keep_notices_days, self.keep_journal_days, self.keep_files_days)
        return Keep(*(timedelta(days=d) if d else None for d in days))

    @property
    def listed(self) -> list[str]:
        """Return the people and chats that may always write."""
        return _listed(self.allowed)

    @property
    def trusted_servers(self) -> list[str]:
        """Return the servers whose people may invite the bot on Matrix."""
        return _listed(self.matrix_servers)

    @property
    def data_folder(self) -> Path:
        """Return the folder for the default database and the history of the terminal."""
        return Path(user_data_path("rinsetank", appauthor=False))
