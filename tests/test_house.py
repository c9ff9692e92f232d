"""How the house is kept: what stands at the top, and that it says nothing it must not."""

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "bot", "scheduler", "store", "tests", "deploy"}


def tracked() -> list[str]:
    """Return the files git tracks, or skip where there is no checkout."""
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode != 0 or not listed.stdout:
        pytest.skip("not a git checkout")
    return listed.stdout.splitlines()


def test_top_level_is_exactly_the_house():
    top = {name.split("/")[0] for name in tracked()}
    assert {name for name in top if not name.startswith(".")} == TOP


def test_modules_stay_readable():
    too_long = [
        f"{path.relative_to(ROOT)}: {lines}"
        for folder in ("bot", "scheduler", "store")
        for path in sorted((ROOT / folder).rglob("*.py"))
        if "migrations" not in path.parts
        and (lines := path.read_text(encoding="utf-8").count("\n")) > 400
        and "catalogue" not in path.parts
        and path.name
        not in {"care.py", "vocabulary.py", "rules.py", "compatibility.py", "tables.py"}  # tables
    ]
    assert too_long == []


def test_no_file_names_a_registry_host_or_a_path_of_a_machine():
    host = re.compile(
        "|".join(("python" + "hosted", "py" + "pi[.]org", "index" + "-url", "registry[.]np" + "mjs"))
    )
    path = re.compile(r"(?<![\w.])/(?:home|root|work)" + "/")
    found = [
        name
        for name in tracked()
        if (text := (ROOT / name).read_text(encoding="utf-8", errors="replace"))
        and (host.search(text) or path.search(text))
    ]
    assert found == []


def test_constraints_pin_exact_versions():
    lines = [
        x
        for x in (ROOT / "deploy" / "constraints.txt").read_text().splitlines()
        if x and not x.startswith("#")
    ]
    assert [x for x in lines if not re.fullmatch(r"[\w.\-]+==[\w.]+", x)] == []
    assert len(lines) > 30
