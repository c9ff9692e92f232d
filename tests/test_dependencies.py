"""What the program leans on is declared, and every version is pinned, so that an audit sees all of it."""

import ast
import re
import sys
import tomllib
from importlib.metadata import PackageNotFoundError, distribution, packages_distributions
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).parent.parent
FLOORS = ("bot", "scheduler", "store")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def plain(name: str) -> str:
    """Return the name of a package as it is compared."""
    return re.sub(r"[-_.]+", "-", name).lower()


def pinned() -> dict[str, str]:
    """Return the version of each package in the constraints."""
    lines = (ROOT / "deploy" / "constraints.txt").read_text(encoding="utf-8").splitlines()
    pairs = [line.partition("==") for line in lines if "==" in line and not line.startswith("#")]
    return {plain(name): version for name, _, version in pairs}


def imported() -> dict[str, str]:
    """Return each module of others that the product imports, with one file that does."""
    found: dict[str, str] = {}
    for path in (p for floor in FLOORS for p in sorted((ROOT / floor).rglob("*.py"))):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
                names.append(node.module)
            found |= {name.partition(".")[0]: str(path.relative_to(ROOT)) for name in names}
    return {m: at for m, at in found.items() if m not in {*FLOORS, *sys.stdlib_module_names}}


def needed() -> set[str]:
    """Return every package that is installed for the product and its tests, those that others bring along too."""
    declared = [*PROJECT["dependencies"], *PROJECT["optional-dependencies"]["test"]]
    waiting, found = [Requirement(line) for line in declared], set[tuple[str, str]]()
    while waiting:
        wanted = waiting.pop()
        for extra in ("", *sorted(wanted.extras)):
            if (plain(wanted.name), extra) in found:
                continue
            try:
                requires = distribution(wanted.name).requires or []
            except PackageNotFoundError:  # an option that is not installed
                continue
            found.add((plain(wanted.name), extra))
            more = [Requirement(line) for line in requires]
            waiting += [r for r in more if r.marker is None or r.marker.evaluate({"extra": extra})]
    return {name for name, _ in found}


def test_product_imports_only_what_is_declared():
    declared = {plain(Requirement(line).name) for line in PROJECT["dependencies"]}
    ships = packages_distributions()
    undeclared = {
        module: at
        for module, at in imported().items()
        if declared.isdisjoint(map(plain, ships.get(module, ())))
    }
    assert undeclared == {}


def test_everything_that_is_declared_is_imported_or_needed_without_an_import():
    ships = packages_distributions()
    used = {plain(name) for module in imported() for name in ships.get(module, ())}
    declared = {plain(Requirement(line).name) for line in PROJECT["dependencies"]}
    assert declared - used == {
        "sniffio",  # the HTTP library of the Telegram client looks for it
        "tzdata",  # zones on machines without them
    }


def test_every_package_that_is_needed_is_pinned_to_one_version():
    pins, wanted = (
        pinned(),
        needed() - {"setuptools"},
    )  # a tool of the environment, which the homeserver asks for
    assert sorted(wanted - set(pins)) == []
    assert {name: distribution(name).version for name in wanted} == {name: pins[name] for name in wanted}
