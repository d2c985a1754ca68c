"""A far window whose listener dies: it is waited for with growing waits, found again, or given up by name."""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from benchd.clock import StopRequest
from benchd.errors import ScreenLost
from benchd.run.bench.open_bench import REOPEN_FOR_S, OpenBench
from benchd.run.job import BenchJob, Document
from benchd.run.operator_checks import Operator
from tests.hdr.test_link import Far

SEEN: dict[str, Any] = {"screen": {}, "companions": []}


class Waits(StopRequest):
    """Waits that pass at once; ``during`` is called in each with its number from 1."""

    def __init__(self, during: Callable[[int], None]) -> None:
        super().__init__()
        self.waits: list[float] = []
        self._during = during

    def wait(self, seconds: float) -> bool:
        self.waits.append(seconds)
        self._during(len(self.waits))
        return self.asked


@pytest.fixture
def nobody() -> Iterator[str]:
    """An address at which nobody listens, and nobody else can."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        yield f"127.0.0.1:{taken.getsockname()[1]}"


class Bench:
    """A bench of which only the screen is open; where its window is looked for can be changed."""

    def __init__(self, far: Far, stop: StopRequest) -> None:
        self.part = SimpleNamespace(
            prompt=None, command=None, connect=far.address, token_file=str(far.token), signal=None
        )
        profile: Any = SimpleNamespace(bench="b", companions=(), screen=self.part, model_dump=lambda **_: SEEN)
        self.open = OpenBench(BenchJob({"bench": Document("b", "b.yaml", "")}, profile), Operator(stop))
        self.open.open_screen()

    def lose(self, far: Far, nobody: str) -> None:
        """The far machine is gone; its address is one at which nobody is."""
        far.close()
        self.part.connect = nobody


def test_a_listener_that_is_started_again_is_found(tmp_path: Path, nobody: str) -> None:
    far = Far(tmp_path)
    later: list[Far] = []

    def start_again(number: int) -> None:
        if number == 3:
            later.append(Far(tmp_path))
            bench.part.connect = later[0].address

    stop = Waits(start_again)
    bench = Bench(far, stop)
    bench.lose(far, nobody)
    bench.open.reopen_screen()
    assert bench.open.screen_identity.name == "PAPER-1"
    assert stop.waits == [1.0, 2.0, 4.0]
    bench.open.screen.close()
    later[0].close()


def test_one_that_stays_away_is_given_up_by_name(tmp_path: Path, nobody: str) -> None:
    far = Far(tmp_path)
    stop = Waits(lambda number: None)
    bench = Bench(far, stop)
    bench.lose(far, nobody)
    with pytest.raises(ScreenLost, match=f"no window answers at {nobody}.*start `benchd window --listen` there"):
        bench.open.reopen_screen()
    assert stop.waits == [1.0, 2.0, 4.0, 8.0, 15.0]
    assert sum(stop.waits) == REOPEN_FOR_S


def test_who_wants_to_stop_does_not_wait(tmp_path: Path, nobody: str) -> None:
    far = Far(tmp_path)
    stop = Waits(lambda number: stop.set("enough"))
    bench = Bench(far, stop)
    bench.lose(far, nobody)
    with pytest.raises(ScreenLost):
        bench.open.reopen_screen()
    assert stop.waits == [1.0]
