"""A drawn part of the fault campaign; all of it is `python -m tests.campaign`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.campaign.__main__ import alone, pairs, possible, run_one, told
from tests.campaign.case import prepare
from tests.campaign.faults import BY_NAME, FAULTS
from tests.campaign.kills import kill_at_random
from tests.campaign.table import table

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


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("campaign")
    prepare(["virtual"], place)
    return place


@pytest.mark.parametrize("name", QUICK)
def test_alone(folder: Path, name: str) -> None:
    if not possible(BY_NAME[name]):
        pytest.skip("an ext4 image can only be mounted by root, with the Debian package e2fsprogs")
    [planned] = alone([name], ["virtual"])
    ended = run_one(folder / name, 0, planned)
    assert not ended.problems, told(ended)


@pytest.mark.parametrize(
    "planned", pairs(4, SEED, ["virtual"]), ids=lambda planned: "+".join(f.name for f in planned[0])
)
def test_a_drawn_pair(folder: Path, planned: tuple, request: pytest.FixtureRequest) -> None:  # type: ignore[type-arg]
    ended = run_one(folder / request.node.callspec.id, 0, planned)
    assert not ended.problems, told(ended)


@pytest.mark.screen
@pytest.mark.parametrize("name", ["lamp-on", "window-killed"])
def test_on_the_real_window(tmp_path: Path, name: str) -> None:
    prepare(["window"], tmp_path)
    [planned] = alone([name], ["window"])
    ended = run_one(tmp_path, 0, planned)
    assert not ended.problems, told(ended)


def test_kills_at_drawn_instants() -> None:
    hits, wrong = kill_at_random(40, SEED)
    assert hits == 40
    assert wrong == 0


def test_there_are_thirty_faults_and_the_table_names_each_that_was_run() -> None:
    assert len(FAULTS) >= 30
    assert len(BY_NAME) == len(FAULTS), "each has a name of its own"
    assert "What can't be seen" in table([], 0)
