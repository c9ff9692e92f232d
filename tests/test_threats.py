"""The table of threats names tests, and they are there."""

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parent.parent


def rows() -> list[list[str]]:
    """Return the cells of each threat."""
    told = (
        (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## Threats")[2].partition("\n## ")[0]
    )
    lines = [line for line in told.splitlines() if line.startswith("| ")][1:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


def named_in(path: Path) -> set[str]:
    """Return the tests of a file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {n.name for n in tree.body if isinstance(n, ast.FunctionDef | ast.AsyncFunctionDef)}


def test_each_threat_has_an_answer_and_tests_that_exist():
    table = rows()
    assert len(table) > 20
    missing = []
    for threat, answer, tests in table:
        named = re.findall(r"`([\w/]+\.py)::(test_\w+)`", tests)
        assert answer, threat
        assert named, threat
        missing += [f"{file}::{name}" for file, name in named if name not in named_in(ROOT / file)]
    assert missing == []
