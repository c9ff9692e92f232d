"""Settings from the environment: the only file that reads it. Each is named RINSETANK_ and the field in capitals."""

import re
from pathlib import Path
from urllib.parse import unquote, urlsplit
from zoneinfo import available_timezones

from platformdirs import user_data_path
from pydantic import Field, SecretStr, field_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

from bot.access import Mode
from scheduler.limits import MATRIX_PER_SECOND, SECRET_CHARS


def _listed(told: str) -> list[str]:
    return [one.strip() for one in told.split(",") if one.strip()]


class Settings(BaseSettings):
    """What a place may want to set. Everything has a default that works."""

    model_config = SettingsConfigDict(env_prefix="RINSETANK_", extra="ignore")

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
        "telegram_token", "telegram_webhook_secret", "matrix_password", "matrix_token", mode="before"
    )
    @classmethod
    def _empty_is_off(cls, told: object) -> object:
        return None if told == "" else told

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
        )
        password = urlsplit(self.db).password if self.db else None
        return [s.get_secret_value() for s in held if s is not None] + (
            [password, unquote(password)] if password else []
        )

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
