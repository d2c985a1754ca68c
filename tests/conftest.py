"""For all tests: nothing learned on this machine's benches changes what they find; and a browser for pages."""

from __future__ import annotations

import gc
import os
import re
import shutil
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.ready import Ready

if TYPE_CHECKING:
    from playwright.sync_api import Browser

os.environ["XDG_DATA_HOME"] = "/dev/null/nothing"  # no folder can be made there, not even by root
# Before numpy is loaded: every worker and every child would start a thread for each core, which gains nothing here.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ["XDG_STATE_HOME"] = "/dev/null/nothing"
if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
    # What a script begins with `&` ignores Ctrl-C, and so would all that the tests begin and stop.
    signal.signal(signal.SIGINT, signal.default_int_handler)

BROWSERS = ("chromium-headless-shell", "chromium", "chromium-browser")
"""The first that is there is used: the same engine without a desktop's parts opens a page in a sixth of the time."""

QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]


LONGEST = (
    "sim/test_story.py",
    "run/test_kill_anywhere.py",
    "run/test_adaptive.py",
    "command/test_main_job.py",
    "daemon/test_commands.py",
    "command/test_real_window.py",
    "test_docs.py",
    "run/test_lessons.py",
)
"""Files whose single tests or fixtures take longest, the longest first."""


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin the longest at once, one with each worker, so that none is left with them at the end.

    Every worker begins with a run of its own of this list, and what it leaves for later, others take from its end.
    """
    workers = int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))
    files = {name: [item for item in items if item.nodeid.startswith(f"tests/{name}::")] for name in LONGEST}
    early = {item.nodeid for found in files.values() for item in found}
    others = [item for item in items if item.nodeid not in early]
    ordered: list[pytest.Item] = []
    for worker in range(workers):
        share = (len(items) - len(ordered)) // (workers - worker)
        own = [item for name in LONGEST[worker::workers] for item in files[name]]
        rest = max(0, share - len(own))
        ordered += own + others[:rest]
        del others[:rest]
    items[:] = ordered + others


def pytest_collection_finish() -> None:
    """What was collected stays: to look through half a million objects again and again finds nothing."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


@pytest.fixture(scope="session")
def ready() -> Iterator[Ready]:
    """Runs commands without loading their modules anew for each."""
    with Ready() as found:
        yield found


@pytest.fixture
def tmp_path(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a short name: sockets are made in it, and the path of one has 107 bytes at most."""
    name = re.sub(r"\W", "_", request.node.name.removeprefix("test_"))[:12]
    return tmp_path_factory.mktemp(name)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """A browser for all tests of a file. With `CI` set, a missing one is a failure."""
    program = next(filter(None, map(shutil.which, BROWSERS)), None)
    if program is None:
        assert not os.environ.get("CI"), "pages are tested in Chromium: install the package chromium"
        pytest.skip("pages are tested in Chromium: install the package chromium")
    from playwright.sync_api import expect, sync_playwright  # most tests need no browser

    expect.set_options(timeout=60_000)  # what is expected comes; a loaded machine may take long
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=program, args=QUIET)
        yield made
        made.close()
