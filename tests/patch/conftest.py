"""Fixtures of the window tests: X servers, windows on them, and a second X client to look with."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from benchd.clock import Deadline
from benchd.patch import window_screen
from benchd.patch.model import Patch
from benchd.patch.screen import Shown
from benchd.patch.window_screen import WindowScreen, window_command
from tests.patch.x_client import XClient
from tests.patch.x_server import XServer, two_outputs, virtual_server

SHOWN_WITHIN_S = 60.0
PATIENCE_S = 60.0

OpenWindow = Callable[..., WindowScreen]


def show(screen: WindowScreen, patch: Patch) -> Shown:
    """Show with a deadline that only a hung window misses."""
    return screen.show(patch, Deadline.after(SHOWN_WITHIN_S))


@pytest.fixture(scope="module", autouse=True)
def patient() -> Iterator[None]:
    """A loaded machine may take long to open or to end a window; that is no fault of the window."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(window_screen, "OPENS_WITHIN_S", PATIENCE_S)
        patch.setattr(window_screen, "ENDS_WITHIN_S", PATIENCE_S)
        yield


@pytest.fixture(scope="session")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("x")


@pytest.fixture(scope="session")
def x24(scratch: Path) -> Iterator[XServer]:
    """A server that no test harms."""
    with virtual_server(scratch) as server:
        yield server


@pytest.fixture
def x_victim(tmp_path: Path) -> Iterator[XServer]:
    """A server for one test to kill or freeze."""
    with virtual_server(tmp_path, size="640x360") as server:
        yield server


@pytest.fixture(scope="session")
def x30(scratch: Path) -> Iterator[XServer]:
    """Ten bits a channel."""
    folder = scratch / "deep"
    folder.mkdir()
    with virtual_server(folder, depth=30, size="640x360") as server:
        yield server


@pytest.fixture(scope="session")
def x_pair(scratch: Path) -> Iterator[XServer]:
    """Two outputs; tests put back what they change."""
    folder = scratch / "pair"
    folder.mkdir()
    with two_outputs(folder) as server:
        yield server


@pytest.fixture
def open_window() -> Iterator[OpenWindow]:
    """Opens windows, and closes them at the end of the test."""
    opened: list[WindowScreen] = []

    def opener(server: XServer, monitor: str = "primary", bits: int = 8, *extra: str) -> WindowScreen:
        screen = WindowScreen([*window_command(monitor, bits), *extra], environment=server.environment)
        opened.append(screen)
        screen.identify()
        return screen

    yield opener
    for screen in opened:
        screen.close()


@pytest.fixture
def connect() -> Iterator[Callable[[XServer], XClient]]:
    """Connects a second client, and lets go at the end of the test."""
    clients: list[XClient] = []

    def connector(server: XServer) -> XClient:
        clients.append(XClient(server.name))
        return clients[-1]

    yield connector
    for client in clients:
        client.close()
