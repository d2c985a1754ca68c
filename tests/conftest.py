"""For all tests: nothing learned on this machine's benches changes what they find; and a browser for pages."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser

os.environ["XDG_DATA_HOME"] = "/nonexistent"

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


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """A browser for all tests of a file. With `CI` set, a missing one is a failure."""
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        assert not os.environ.get("CI"), "pages are tested in Chromium: install the package chromium"
        pytest.skip("pages are tested in Chromium: install the package chromium")
    from playwright.sync_api import sync_playwright  # most tests need no browser

    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=program, args=QUIET)
        yield made
        made.close()
