"""The README keeps its word: the job first, two commands, and examples that are real."""

import asyncio
import re
from pathlib import Path

from bot.cli import app
from bot.demo import play

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_readme_opens_with_the_job():
    first = README.split("\n\n")[1]
    assert (
        first.startswith("A diver who teaches"),
        "reasoned verdict, its source and its cautions" in " ".join(first.split()),
    ) == (True, True)


def test_readme_has_the_two_commands():
    commands = [line.strip() for line in README.splitlines() if "python3 -m venv" in line]
    assert commands == [
        "python3 -m venv .venv && .venv/bin/pip install . -c deploy/constraints.txt && .venv/bin/rinsetank demo",
        "python3 -m venv .venv && .venv/bin/pip install -e '.[test]' -c deploy/constraints.txt && .venv/bin/pytest",
    ]


def test_readme_examples_are_output_of_the_demo(store):
    told = "\n".join(asyncio.run(play(store)))
    examples = re.findall(r"```demo\n(.*?)\n```", README, flags=re.DOTALL)
    assert len(examples) >= 5
    assert [e for e in examples if e not in told] == []


def test_readme_names_every_command():
    names = [c.name or (c.callback.__name__ if c.callback else "") for c in app.registered_commands]
    assert [n for n in names if f"rinsetank {n}" not in README] == []
