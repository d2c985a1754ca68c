"""The service manager is told the truth: ready, alive only while the sequencer gets on, stopping."""

from __future__ import annotations

import os
import socket
import threading
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest

from benchd import clock
from benchd.clock import RealClock, StopRequest
from benchd.daemon.notify import SLICE_S, Notifier, WatchedStop
from tests.daemon.scene import Gate, House, quick


class Manager:
    """The other end of NOTIFY_SOCKET, as sd_notify(3) of systemd describes it: one datagram a message."""

    def __init__(self, address: str) -> None:
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(address)
        self.socket.settimeout(0.0)

    def heard(self) -> list[str]:
        said: list[str] = []
        while True:
            try:
                said.append(self.socket.recv(4096).decode())
            except BlockingIOError:
                return said


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[Manager]:
    found = Manager(str(tmp_path / "notify"))
    yield found
    found.socket.close()


def environment(tmp_path: Path, watchdog_us: int = 0, **more: str) -> dict[str, str]:
    return {"NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": str(watchdog_us), **more}


def test_the_words_are_those_of_the_protocol(tmp_path: Path, manager: Manager) -> None:
    notifier = Notifier.from_environment(environment(tmp_path, 4_000_000))
    notifier.ready()
    notifier.status("running j1,\nplan quick")
    notifier.alive()
    notifier.stopping()
    assert manager.heard() == ["READY=1", "STATUS=running j1, plan quick", "WATCHDOG=1", "STOPPING=1"]


def test_an_abstract_address_is_understood() -> None:
    name = f"benchd-test-{os.getpid()}"
    manager = Manager(f"\0{name}")
    Notifier(f"@{name}").ready()
    assert manager.heard() == ["READY=1"]
    manager.socket.close()


def test_without_a_manager_nothing_happens(tmp_path: Path) -> None:
    for notifier in (Notifier(), Notifier.from_environment({}), Notifier(str(tmp_path / "nobody"), 1.0)):
        notifier.ready()
        notifier.alive()


@pytest.mark.parametrize("told", [{"WATCHDOG_PID": "1"}, {"WATCHDOG_USEC": "soon"}, {"WATCHDOG_USEC": "0"}])
def test_a_watchdog_of_somebody_else_is_not_fed(tmp_path: Path, manager: Manager, told: dict[str, str]) -> None:
    Notifier.from_environment(environment(tmp_path, 1_000_000) | told).alive()
    assert manager.heard() == []


def test_signs_of_life_are_rationed_and_so_is_the_status(tmp_path: Path, manager: Manager) -> None:
    now = [0.0]
    notifier = Notifier(str(tmp_path / "notify"), watchdog_s=8.0, now_s=lambda: now[0])
    for tick in range(1000):
        now[0] = tick * 0.01
        notifier.alive()
        notifier.status(f"step {tick}")
    said = manager.heard()
    assert said.count("WATCHDOG=1") == 5, "every two seconds"
    assert len([one for one in said if one.startswith("STATUS=")]) == 5


def test_a_manager_that_does_not_read_stops_nobody(tmp_path: Path, manager: Manager) -> None:
    notifier = Notifier(str(tmp_path / "notify"))
    for _ in range(2000):
        notifier.ready()
    assert manager.heard()


def test_a_run_feeds_the_watchdog_and_a_meter_that_hangs_does_not(tmp_path: Path, manager: Manager) -> None:
    now = [0.0]
    notifier = Notifier(str(tmp_path / "notify"), watchdog_s=4.0, now_s=lambda: now[0])
    with House(tmp_path / "service", notifier=notifier) as house:
        gate = Gate(house.scene, at=6)
        house.service.submit(quick())
        gate.wait()
        assert "WATCHDOG=1" in manager.heard()
        now[0] = 100.0  # whoever said that it is alive would now be heard
        for _ in range(5):  # the sockets' threads go on: they must not make it look alive
            house.service.snapshot()
            house.service.wait_for_change(10**9, 0.1)
        assert "WATCHDOG=1" not in manager.heard()
        gate.open.set()
        house.wait_for(j1="complete")
        assert "WATCHDOG=1" in manager.heard()
    assert manager.heard()[-1] == "STOPPING=1"


def test_a_long_wait_says_that_it_is_alive_and_still_hears_the_request(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [0.0]

    def wait(stop: StopRequest, seconds: float) -> bool:
        now[0] += seconds
        return stop.asked

    signs: list[float] = []
    stop = WatchedStop(lambda: signs.append(now[0]), slice_s=5.0)
    with monkeypatch.context() as patch:
        patch.setattr(clock, "time", SimpleNamespace(monotonic=lambda: now[0]))
        patch.setattr(StopRequest, "wait", wait)
        RealClock().sleep(22.0, stop)
    assert signs == [5.0, 10.0, 15.0, 20.0, 22.0]
    assert not stop.asked
    threading.Timer(0.05, stop.set, ["enough"]).start()
    RealClock().sleep(600.0, stop)
    assert stop.reason == "enough"


@pytest.mark.parametrize(("patience_s", "slice_s"), [(0.0, SLICE_S), (300.0, SLICE_S), (3.0, 0.75), (0.4, 0.1)])
def test_waits_are_as_short_as_the_managers_patience_asks(patience_s: float, slice_s: float) -> None:
    # sd_watchdog_enabled(3) of systemd: a sign of life is due every half of WATCHDOG_USEC.
    assert Notifier(watchdog_s=patience_s).slice_s == pytest.approx(slice_s)
    assert patience_s == 0.0 or slice_s < patience_s / 2


def test_an_idle_service_is_alive(tmp_path: Path, manager: Manager) -> None:
    notifier = Notifier.from_environment(environment(tmp_path, 1_000_000))
    with House(tmp_path / "service", notifier=notifier) as house:
        house.wait(lambda found: found.doing == "idle")
        house.service.submit(quick(not_before="2199-01-01T00:00:00Z"))
        house.service.wait_for_change(10**9, 0.2)
        house.service.submit(quick(not_before="2199-01-01T00:00:00Z"))
        house.service.wait_for_change(10**9, 0.2)
        assert "WATCHDOG=1" in manager.heard()
