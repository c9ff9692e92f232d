"""Settings from the environment: the only file that reads it. Each is named RINSETANK_ and the field in capitals."""

from pathlib import Path
from zoneinfo import available_timezones

from platformdirs import user_data_path
from pydantic import Field, field_validator
from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """What a place may want to set. Everything has a default that works."""

    model_config = SettingsConfigDict(env_prefix="RINSETANK_", extra="ignore")

    db: str | None = Field(
        default=None,
        description="SQLAlchemy URL of the database; default: a SQLite file in the user's data folder",
    )
    zone: str = Field(default="UTC", description="time zone of a new chat in the terminal")
    web_url: str | None = Field(
        default=None,
        description="where the web endpoint is reached from outside, such as https://kit.example; default: no links are given",
    )
    web_host: str = Field(default="127.0.0.1", description="address the web endpoint listens on")
    web_port: int = Field(default=8790, ge=1, le=65535, description="port the web endpoint listens on")
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

    @property
    def data_folder(self) -> Path:
        """Return the folder for the default database and the history of the terminal."""
        return Path(user_data_path("rinsetank", appauthor=False))
