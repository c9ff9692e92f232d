"""The README keeps its word: the job first, two commands, and examples that are real."""

import asyncio
import re
import shutil
from pathlib import Path

from PIL import Image, ImageChops, ImageStat
from pypdf import PdfReader

from bot.cli import app
from bot.demo import play
from bot.files import Folder

ROOT = Path(__file__).parent.parent
PICTURES = ROOT / "deploy" / "pictures"
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


def test_readme_examples_are_output_of_the_demo(store, tmp_path, request):
    told = "\n".join(asyncio.run(play(store, Folder(tmp_path, anew=True))))
    examples = re.findall(r"```demo\n(.*?)\n```", README, flags=re.DOTALL)
    assert len(examples) >= 5
    assert [e for e in examples if e not in told] == []
    if request.config.getoption("--rewrite"):
        shutil.rmtree(PICTURES, ignore_errors=True)
        shutil.copytree(tmp_path, PICTURES, ignore=shutil.ignore_patterns("*.db*"))
    assert_same_pictures(tmp_path)


def assert_same_pictures(drawn: Path) -> None:
    """Compare what the demo drew with what the README shows: papers by their words, pictures by their pixels."""
    kept = {path.name for path in PICTURES.iterdir()}
    assert kept == {path.name for path in drawn.iterdir() if path.suffix in {".png", ".pdf"}}
    for name in kept:
        if name.endswith(".pdf"):
            assert words(drawn / name) == words(PICTURES / name), name
            continue
        with Image.open(drawn / name) as one, Image.open(PICTURES / name) as other:
            assert one.size == other.size, name
            apart = ImageChops.difference(one.convert("L"), other.convert("L"))
            assert ImageStat.Stat(apart).mean[0] < 0.5, (
                name
            )  # of 255: another version may smooth edges otherwise


def words(paper: Path) -> list[str]:
    return [page.extract_text() for page in PdfReader(paper).pages]


def test_readme_shows_only_pictures_that_are_there():
    named = re.findall(r"\]\((deploy/pictures/[^)]+)\)|src=\"(deploy/pictures/[^\"]+)\"", README)
    paths = [ROOT / (one or other) for one, other in named]
    assert len(paths) >= 4
    assert [path for path in paths if not path.is_file()] == []


def test_readme_names_every_command():
    names = [c.name or (c.callback.__name__ if c.callback else "") for c in app.registered_commands]
    assert [n for n in names if f"rinsetank {n}" not in README] == []
