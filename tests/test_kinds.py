"""Nobody outside a measurement's folder knows it by name: no import of it, no branch on its kind."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from benchd.measurements.registry import PACKAGES

ROOT = Path(__file__).resolve().parent.parent / "benchd"
SOURCES = [path for path in sorted(ROOT.rglob("*.py")) if path.relative_to(ROOT).parts[0] != "measurements"]

KNOWN: dict[str, str] = {
    "analysis/meter_model/spectral.py": "luminance is a key of a correction, no kind",
    "analysis/verdicts/panel.py": "contrast is the name of a figure",
}
"""Files that name a kind all the same, and why."""


def imported(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


def compared(tree: ast.AST) -> Iterator[str]:
    """Texts that something is compared with, looked up among, or asked of results by kind."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare):
            parts = [node.left, *node.comparators]
            yield from (
                one.value
                for part in parts
                for one in (part.elts if isinstance(part, ast.Tuple | ast.Set | ast.List) else [part])
                if isinstance(one, ast.Constant) and isinstance(one.value, str)
            )
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "of":
            yield from (one.value for one in node.args if isinstance(one, ast.Constant) and isinstance(one.value, str))
        elif isinstance(node, ast.MatchValue) and isinstance(node.value, ast.Constant):
            yield str(node.value.value)


def test_nobody_outside_its_folder_imports_a_measurement_or_branches_on_its_kind() -> None:
    found = {}
    for path in SOURCES:
        tree = ast.parse(path.read_text())
        wrong = {name for name in imported(tree) if name.startswith(tuple(PACKAGES.values()))}
        wrong |= set(compared(tree)) & PACKAGES.keys()
        if wrong:
            found[path.relative_to(ROOT).as_posix()] = sorted(wrong)
    assert found.keys() == KNOWN.keys(), found
