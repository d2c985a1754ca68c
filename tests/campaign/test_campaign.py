"""A drawn part of the fault campaign; all of it is `python -m tests.campaign`.

Its cases on the real window take real time, minutes each: `tests/command/test_real_window.py` has the main ones.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.campaign.__main__ import alone, pairs, possible, run_one, told
from tests.campaign.case import prepare
from tests.campaign.faults import BY_NAME, FAULTS
from tests.campaign.kills import kill_at_random
from tests.campaign.table import DOCUMENT, table

SEED = 61
QUICK = (
    "meter-garbled",
    "meter-frozen",
    "wrong-meter",
    "under-range",
    "lamp-on",
    "meter-aside",
    "display-asleep",
    "control-reset",
    "control-lies-always",
    "disk-full",
    "disk-read-only",
    "log-folder-removed",
    "clock-back",
    "benchd-killed",
    "companion-killed",
)


def short_folder() -> Iterator[Path]:
    """A folder with a short name: the path of a Unix socket has at most 107 bytes, and pytest's are long."""
    with tempfile.TemporaryDirectory(prefix="faults-") as place:
        yield Path(place)


@pytest.fixture(scope="module")
def folder() -> Iterator[Path]:
    for place in short_folder():
        prepare(["virtual"], place)
        yield place


@pytest.mark.parametrize("name", QUICK)
def test_alone(folder: Path, name: str) -> None:
    if not possible(BY_NAME[name]):
        pytest.skip("an ext4 image can only be mounted by root, with the Debian package e2fsprogs")
    [planned] = alone([name], ["virtual"])
    ended = run_one(folder, QUICK.index(name), planned)
    assert not ended.problems, told(ended)


@pytest.mark.parametrize("number", range(4))
def test_a_drawn_pair(folder: Path, number: int) -> None:
    ended = run_one(folder, 100 + number, pairs(4, SEED, ["virtual"])[number])
    assert not ended.problems, told(ended)


def test_kills_at_drawn_instants() -> None:
    hits, wrong = kill_at_random(40, SEED)
    assert hits == 40
    assert wrong == 0


def test_there_are_thirty_faults_and_the_table_names_each_that_was_run() -> None:
    assert len(FAULTS) >= 30
    assert len(BY_NAME) == len(FAULTS), "each has a name of its own"
    document, empty = DOCUMENT.read_text(encoding="utf-8"), table([], 0, 0)
    assert document.startswith(empty.partition("\n\nDrawn pairs")[0]), "FAULTS.md is what the program writes"
    assert document.endswith(empty[empty.index("What can't be seen") :])
    assert all(f"| {fault.name} | {fault.text} |" in document for fault in FAULTS)
