"""The shell. Each command is thin: it reads, calls one function and prints; what it needs is imported when it runs."""

import json
import sys
from collections.abc import Iterable
from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from bot.cli_copies import add_to

app = typer.Typer(
    help="Keeps a diver's kit alive: what goes on each part, what falls due, and a reminder at the right hour.",
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

_ShellError: type[Exception] = next(c for c in typer.BadParameter.__mro__ if c.__name__ == "ClickException")
"""The root of what typer raises for misuse; it ships its own copy of click, so there is no public name for it."""

Json = Annotated[bool, typer.Option("--json", help="Print JSON objects, one a line.")]
Db = Annotated[
    str | None, typer.Option("--db", help="Database URL; default: a SQLite file in your data folder.")
]


class Refused(Exception):  # noqa: N818 - it is a refusal, said in one line
    """A command cannot do what was asked; the message is the one line to print."""


@app.callback(invoke_without_command=True)
def _without_command(context: typer.Context) -> None:
    if context.invoked_subcommand is None:
        typer.echo(context.get_help())


@app.command()
def ask(
    text: Annotated[str, typer.Argument(help="The question; - reads one a line.")], as_json: Json = False
) -> None:
    """Answer what goes on a part. No locker is needed."""
    for question in _lines(text):
        data = _answer(question)
        typer.echo(json.dumps(data, ensure_ascii=False) if as_json or text == "-" else _as_text(data))


def _answer(question: str) -> dict[str, Any]:
    from bot.advice.answer import answer
    from bot.understand.in_passing import understand_question
    from bot.understand.intents import Ask

    intent = understand_question(question, _today())
    if isinstance(intent, Ask):
        return answer(intent.question).as_data(question)
    problem = getattr(intent, "problem", "I did not get that.")
    tries = list(getattr(intent, "suggestions", ()))
    return {
        "question": question,
        "verdict": "clarify",
        "part": None,
        "use": [],
        "avoid": [],
        "choices": tries,
        "short": problem,
        "text": "\n".join([problem, *(f"Try: {t}" for t in tries)]),
        "cautions": [],
        "because": [],
    }


def _as_text(data: dict[str, Any]) -> str:
    choices = (
        "".join(f"\n[{n}] {label}" for n, label in enumerate(data["choices"], 1))
        if data["verdict"] == "clarify"
        else ""
    )
    said_by = list(dict.fromkeys(f"  {b['rule']}: {b['source']}" for b in data["because"]))
    return str(data["text"]) + choices + ("\n" + "\n".join(["Says who:", *said_by]) if said_by else "")


@app.command(name="understand")
def understand_text(
    text: Annotated[str, typer.Argument(help="The message; - reads one a line.")],
    as_json: Json = False,
    now: Annotated[str | None, typer.Option(help="The moment it was said, ISO 8601.")] = None,
) -> None:
    """Show how a message is read."""
    from bot.reading.shown import as_read

    today = _today(now)
    for line in _lines(text):
        data = as_read(line, today)
        typer.echo(json.dumps(data, ensure_ascii=False) if as_json or text == "-" else _read_as(data))


def _read_as(data: dict[str, Any]) -> str:
    fields = [f"  {k}: {v}" for k, v in data["fields"].items() if v not in (None, [], "", False)]
    return "\n".join([data["intent"], *fields, *(f"  try: {s}" for s in data["suggestions"])])


@app.command()
def chat(db: Db = None) -> None:
    """Talk in the terminal; piped lines work too."""
    import asyncio

    from bot.main import conversation, local_zone, open_store, set_up_logging
    from bot.settings import Settings
    from bot.transports.console import Console
    from scheduler.clock import SystemClock

    settings = Settings()
    set_up_logging(settings.log_level)
    store = open_store(db, settings)
    try:
        console = Console(
            store,
            conversation(store, settings),
            SystemClock(),
            "you",
            local_zone(settings),
            files=settings.data_folder / "files",
        )
        if sys.stdin.isatty():
            settings.data_folder.mkdir(parents=True, exist_ok=True)
            asyncio.run(console.run(settings.data_folder / "history"))
        else:
            asyncio.run(console.run_piped(sys.stdin, sys.stdout))
    finally:
        store.close()


@app.command()
def replay(
    file: Annotated[Path, typer.Argument(help="One JSON object a line; - reads standard input.")],
    as_json: Json = False,
    db: Db = None,
    files: Annotated[
        Path | None, typer.Option(help="Folder for what the bot sends; default: a temporary one.")
    ] = None,
) -> None:
    """Play messages through the real pipeline on a simulated clock."""
    import asyncio
    import tempfile

    from bot.files import Folder
    from bot.main import set_up_logging
    from bot.progress import progress
    from bot.render.terminal import for_terminal
    from bot.replay import ReplayError
    from bot.replay import replay as play
    from bot.settings import Settings
    from store.engine import Store, sqlite_url

    set_up_logging(Settings().log_level)
    lines = _read(file)
    with tempfile.TemporaryDirectory(prefix="rinsetank-") as folder:
        store = Store(db or sqlite_url(Path(folder) / "replay.db"))
        try:
            base = Path() if str(file) == "-" else file.parent
            with progress("Playing", sum(1 for line in lines if line.strip()), sys.stderr) as tell:
                played = asyncio.run(play(store, lines, base, Folder(files), tell))
            for sent in played:
                if as_json:
                    typer.echo(json.dumps(sent.as_json(), ensure_ascii=False))
                else:
                    typer.echo(
                        f"{sent.at.isoformat()} {sent.chat} ({sent.reply.kind.value})\n{for_terminal(sent.reply, sent.paths)}\n"
                    )
        except ReplayError as error:
            raise Refused(str(error)) from error
        finally:
            store.close()


@app.command()
def demo(
    files: Annotated[
        Path | None,
        typer.Option(help="Folder for the pictures and papers of the season; default: a temporary one."),
    ] = None,
) -> None:
    """Play an invented diver's season, on a simulated clock and a database of its own."""
    import asyncio
    import tempfile

    from bot.demo import play
    from bot.files import Folder
    from bot.main import set_up_logging
    from store.engine import Store, sqlite_url

    set_up_logging("ERROR")
    with tempfile.TemporaryDirectory(prefix="rinsetank-") as folder:
        store = Store(sqlite_url(Path(folder) / "demo.db"))
        try:
            drawn = Folder(files, anew=True)
            for told in asyncio.run(play(store, drawn)):
                typer.echo(told)
            typer.echo(f"Pictures and papers: {drawn.path}")
        finally:
            store.close()


@app.command(name="import")
def import_file(
    file: Annotated[
        Path, typer.Argument(help="A dive log (UDDF, or CSV with named columns), or all data as exported.")
    ],
    yes: Annotated[
        bool, typer.Option("--yes", help="Count the new dives, or take the data in, at once.")
    ] = False,
    db: Db = None,
) -> None:
    """Take a file into the locker of the terminal: shows what is in it, counts with --yes or in the chat."""
    from bot.files import FileRefusedError, read_file
    from bot.main import conversation, local_zone, open_store, set_up_logging
    from bot.progress import progress
    from bot.settings import Settings
    from bot.transports.console import Console
    from scheduler.clock import SystemClock

    settings = Settings()
    set_up_logging(settings.log_level)
    try:
        sent = read_file(file)
    except FileRefusedError as error:
        raise Refused(str(error)) from error
    store = open_store(db, settings)
    try:
        console = Console(store, conversation(store), SystemClock(), "you", local_zone(settings))
        with progress(f"Reading {file.name}", None, sys.stderr):
            taken = console.take_file(sent, count=yes)
        typer.echo(taken.told)
        if not taken.read:
            raise typer.Exit(2)
        if taken.waits:
            at_once = "" if yes else ", or do it at once with --yes"
            typer.echo(f"\nGo on in: rinsetank chat (the buttons above wait there){at_once}.")
    finally:
        store.close()


@app.command()
def export(
    file: Annotated[Path, typer.Argument(help="Where to write; - for standard output.")],
    csv: Annotated[bool, typer.Option("--csv", help="As a zip of CSV tables.")] = False,
    db: Db = None,
) -> None:
    """Write all data of the locker of the terminal to a file, which `import` takes in again."""
    from bot.main import conversation, local_zone, open_store, set_up_logging
    from bot.progress import progress
    from bot.settings import Settings
    from bot.transports.console import Console
    from scheduler.clock import SystemClock

    settings = Settings()
    set_up_logging(settings.log_level)
    if file.exists():
        raise Refused(f"{file} is there already: name another file, or remove it first")
    store = open_store(db, settings)
    try:
        console = Console(store, conversation(store), SystemClock(), "you", local_zone(settings))
        with progress("Gathering", None, sys.stderr):
            told, content = console.data(tables=csv)
        if str(file) == "-":
            sys.stdout.buffer.write(content)
            return
        file.write_bytes(content)
        typer.echo(f"{told}\n[file] {file}")
    except OSError as error:
        raise Refused(f"cannot write {file}: {error.strerror}") from error
    finally:
        store.close()


@app.command()
def serve(db: Db = None) -> None:
    """Run every wire that has credentials, the reminders and the web endpoint until stopped."""
    import asyncio

    import structlog

    from bot.main import open_store, set_up_logging, tell_operator
    from bot.service import serve as run
    from bot.settings import Settings

    settings = Settings()
    set_up_logging(settings.log_level, settings.secrets)
    store = open_store(db, settings)
    try:
        asyncio.run(run(store, settings, tell_operator))
    except OSError as error:
        where = f"{settings.web_host}:{settings.web_port}"
        and_where = f" and {settings.metrics_port}" if settings.metrics_port else ""
        raise Refused(f"cannot serve on {where}{and_where}: {error.strerror}") from error
    except Exception as error:
        structlog.get_logger(__name__).exception("service_failed")
        raise typer.Exit(1) from error
    finally:
        store.close()


@app.command()
def doctor(db: Db = None) -> None:
    """Check clock, zones, settings, database and wires, and say what to mend."""
    from bot.doctor import examine
    from bot.main import set_up_logging
    from bot.scrub import Scrubber
    from bot.settings import Settings

    settings = Settings()
    set_up_logging("ERROR", settings.secrets)
    scrub = Scrubber(settings.secrets)
    findings = examine(db, settings)
    for finding in findings:
        typer.echo(f"{'ok   ' if finding.well else 'MEND '} {finding.what}: {scrub.text(finding.said)}")
    if not all(f.well for f in findings):
        raise typer.Exit(2)


add_to(app)


def _today(now: str | None = None) -> date:
    from scheduler.clock import SystemClock

    if now is None:
        return SystemClock().now().astimezone().date()
    try:
        return datetime.fromisoformat(now).date()
    except ValueError as error:
        raise Refused(
            f"--now wants an ISO 8601 moment such as 2026-06-10T18:00:00+02:00, not {now!r}"
        ) from error


def _lines(text: str) -> Iterable[str]:
    return (line.rstrip("\n") for line in sys.stdin if line.strip()) if text == "-" else (text,)


def _read(file: Path) -> list[str]:
    if str(file) == "-":
        return sys.stdin.readlines()
    try:
        return file.read_text(encoding="utf-8").splitlines()
    except OSError as error:
        raise Refused(f"cannot read {file}: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise Refused(f"cannot read {file}: it is not UTF-8 text") from error


def main(args: list[str] | None = None) -> None:
    """Run a command. Whatever goes wrong is one line on standard error and exit status 2."""
    from pydantic import ValidationError

    from store.errors import StoreError

    for stream in (sys.stdin, sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # bytes that are no UTF-8 must not end a conversation
            stream.reconfigure(encoding="utf-8", errors="replace")
    try:
        code = app(args, standalone_mode=False)
    except _ShellError as error:
        _refuse(getattr(error, "format_message", error.__str__)())
    except (Refused, StoreError) as error:
        _refuse(str(error))
    except ValidationError as error:
        first = error.errors()[0]
        _refuse(f"setting RINSETANK_{str(first['loc'][0]).upper()}: {first['msg']}")
    except (typer.Abort, KeyboardInterrupt):
        sys.exit(130)
    except BrokenPipeError:
        sys.exit(0)
    else:
        sys.exit(code if isinstance(code, int) else 0)


def _refuse(reason: str) -> None:
    typer.echo(f"rinsetank: {' '.join(reason.split())}", err=True)
    sys.exit(2)
