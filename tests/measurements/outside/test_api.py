"""The names that other packages may import are counted: one that goes, or means something else, raises the number."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

import pytest

from benchd.api import API
from tests.imports import loaded_with

MODULES = ("plan", "results", "analysis", "show", "instruments")
SNAPSHOT = Path(__file__).with_name(f"api-{API}.txt")


def test_the_names_are_those_of_the_snapshot() -> None:
    names = {module: import_module(f"benchd.api.{module}").__all__ for module in MODULES}
    lines = [f"{module} {name}" for module in MODULES for name in sorted(names[module])]
    assert lines == SNAPSHOT.read_text().splitlines(), "a name is new, gone or another: see benchd/installed.py, API"


@pytest.mark.parametrize("module", MODULES)
def test_every_name_is_there(module: str) -> None:
    found = import_module(f"benchd.api.{module}")
    assert all(hasattr(found, name) for name in found.__all__)


def test_what_a_plan_and_a_report_need_is_cheap_to_import() -> None:
    loaded = loaded_with("benchd.api.plan", "benchd.api.results", "benchd.api.show")
    assert not {"numpy", "PIL", "serial", "pyglet", "importlib.metadata"} & loaded
