"""What stands in deploy/ agrees with the program: settings, commands, ports, metrics."""

import configparser
import re
import shlex
from pathlib import Path

import pytest
import yaml

from bot.cli import app
from bot.health import ANSWER_S, TICK_S, WIRE_S
from bot.service import CLOSE_S, FINISH_S
from bot.settings import Settings
from bot.transports.web import TELEGRAM_PATH
from bot.watch import Watch
from scheduler.clock import SetClock
from store.retention import BATCH
from tests.conftest import START

DEPLOY = Path(__file__).parent.parent / "deploy"
PORT = str(Settings.model_fields["web_port"].default)
KNOWN = {f"RINSETANK_{name.upper()}" for name in Settings.model_fields}
COMPOSE = yaml.safe_load((DEPLOY / "compose.yaml").read_text())
DOCKERFILE = (DEPLOY / "Dockerfile").read_text()
UNIT = (DEPLOY / "rinsetank.service").read_text()
OPERATIONS = (DEPLOY / "operations.md").read_text()


def commands() -> set[str]:
    return {c.name or c.callback.__name__ for c in app.registered_commands}


@pytest.mark.parametrize("file", sorted(p.name for p in DEPLOY.iterdir() if p.is_file()))
def test_only_settings_that_exist_are_named(file):
    named = set(re.findall(r"RINSETANK_[A-Z]+(?:_[A-Z]+)*", (DEPLOY / file).read_text()))
    assert {
        n for n in named if n not in KNOWN and n != "RINSETANK_MATRIX"
    } == set()  # RINSETANK_MATRIX_* in prose


def test_secrets_of_the_containers_are_settings_or_the_databases_own():
    names = set(COMPOSE["secrets"])
    assert {n.upper() for n in names if n.startswith("rinsetank_")} <= KNOWN
    assert set(COMPOSE["services"]["bot"]["secrets"]) <= names
    assert (
        COMPOSE["services"]["db"]["environment"]["POSTGRES_PASSWORD_FILE"] == "/run/secrets/postgres_password"
    )
    assert [n for n in names if n not in OPERATIONS] == []


def test_secret_may_be_a_file(tmp_path, monkeypatch):
    (tmp_path / "rinsetank_telegram_token").write_text("4711:kelp-kelp\n")
    (tmp_path / "rinsetank_db").write_text("postgresql+psycopg://mara:seaslug-seaslug@db/kit")
    settings = Settings(_secrets_dir=tmp_path)
    assert settings.telegram_token.get_secret_value() == "4711:kelp-kelp"
    assert set(settings.secrets) == {"4711:kelp-kelp", "seaslug-seaslug"}
    monkeypatch.setenv("RINSETANK_TELEGRAM_TOKEN", "of the environment")
    assert Settings(_secrets_dir=tmp_path).telegram_token.get_secret_value() == "of the environment"


def test_ports_agree():
    caddy = (DEPLOY / "Caddyfile").read_text()
    assert re.findall(r"EXPOSE (\d+)", DOCKERFILE) == [PORT]
    assert f"RINSETANK_WEB_PORT={PORT}" in DOCKERFILE
    assert COMPOSE["services"]["bot"]["expose"] == [PORT]
    assert re.findall(r"port (\d+)", caddy) == [PORT]


def test_proxy_passes_the_delivery_and_the_feeds_alone():
    (paths,) = re.findall(r"@outside path (.+)", (DEPLOY / "Caddyfile").read_text())
    assert paths.split() == [TELEGRAM_PATH, "/calendar/*"]


def test_image_runs_a_command_that_exists_as_nobody_and_asks_for_health():
    lines = DOCKERFILE.splitlines()
    user = [line.split()[1] for line in lines if line.startswith("USER")]
    assert user == ["10001"]
    assert re.findall(r'^CMD \["(\w+)"\]', DOCKERFILE, re.MULTILINE) == ["serve"]
    assert "serve" in commands()
    copied = [
        p for line in lines if line.startswith("COPY") and "--from" not in line for p in line.split()[1:-1]
    ]
    assert [p for p in copied if not (DEPLOY.parent / p).exists()] == []
    assert "constraints.txt" in DOCKERFILE
    check = re.search(r'CMD \["python", "-c", "(.+)"\]$', DOCKERFILE, re.MULTILINE)[1].replace('\\"', '"')
    compile(check, "healthcheck", "exec")
    assert "/healthz" in check
    froms = [line.split()[1] for line in lines if line.startswith("FROM")]
    images = froms + [s["image"] for s in COMPOSE["services"].values() if "image" in s]
    assert [i for i in images if "/" in i] == []  # by name alone


def test_unit_runs_a_command_that_exists_and_waits_for_its_stop():
    unit = configparser.ConfigParser(strict=False, interpolation=None)
    unit.optionxform = str
    unit.read_string(UNIT)
    service = unit["Service"]
    program, command = shlex.split(service["ExecStart"])
    assert (program.rsplit("/", 1)[1], command in commands()) == ("rinsetank", True)
    assert float(service["TimeoutStopSec"]) > FINISH_S + 2 * CLOSE_S
    assert (service["NoNewPrivileges"], service["ProtectSystem"], service["DynamicUser"]) == (
        "yes",
        "strict",
        "yes",
    )


def test_metrics_of_the_alerts_exist(store):
    watch = Watch(store, SetClock(START), list, list, backup_dir=DEPLOY)
    try:
        known = {
            name
            for metric in watch._metrics._registry.collect()
            for name in (
                metric.name,
                *(f"{metric.name}_{tail}" for tail in ("total", "bucket", "count", "sum")),
            )
        }
    finally:
        watch.close()
    rules = [r for g in yaml.safe_load((DEPLOY / "alerts.yaml").read_text())["groups"] for r in g["rules"]]
    assert len(rules) > 10
    for rule in rules:
        named = set(re.findall(r"\brinsetank_\w+", rule["expr"]))
        assert named, rule
        assert named - known == set(), rule
        assert {"summary"} == rule["annotations"].keys()
        assert rule["labels"]["severity"] in {"page", "ticket"}
    told = set(re.findall(r"`(rinsetank_\w+)`", OPERATIONS)) - {
        f"rinsetank_{n}" for n in Settings.model_fields
    }
    assert told - known == set()


def test_page_of_operations_says_what_the_program_does():
    for said in (
        f"within {ANSWER_S:.0f} s",
        f"in {TICK_S} s",
        f"in {WIRE_S} s",
        f"up to {FINISH_S:.0f} s",
        f"{BATCH} rows",
    ):
        assert said in OPERATIONS
    for name in ("updates", "notices", "journal", "files"):
        row = next(line for line in OPERATIONS.splitlines() if f"RINSETANK_KEEP_{name.upper()}_DAYS" in line)
        assert f"{Settings.model_fields[f'keep_{name}_days'].default} days" in row
    assert set(re.findall(r"`rinsetank (\w+)", OPERATIONS)) <= commands()


@pytest.mark.parametrize(
    ("setting", "days", "taken"),
    [
        ("updates", 1, False),
        ("updates", 2, True),
        ("journal", 29, False),
        ("journal", 0, True),
        ("files", 1, True),
    ],
)
def test_nothing_is_kept_for_less_than_it_is_needed(setting, days, taken):
    def said():
        return Settings(**{f"keep_{setting}_days": days}).keep

    if not taken:
        with pytest.raises(ValueError, match="days are too few"):
            said()
        return
    span = getattr(said(), setting)
    assert (span.days if span else 0) == days
