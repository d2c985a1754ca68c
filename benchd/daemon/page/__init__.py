"""The page: its files, read once when the service starts, and never by a name that a request brings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from benchd.report.plots.palette import with_palette

_FOLDER = Path(__file__).resolve().parent


@dataclass(frozen=True, slots=True)
class PageFile:
    """One file of the page as it is sent."""

    body: bytes
    content_type: str


def _file(name: str, content_type: str) -> PageFile:
    return PageFile((_FOLDER / name).read_bytes(), content_type)


_SCRIPT = "text/javascript; charset=utf-8"

FILES: Mapping[str, PageFile] = {
    "/": _file("index.html", "text/html; charset=utf-8"),
    "/page.css": PageFile(with_palette(_FOLDER / "page.css").encode(), "text/css; charset=utf-8"),
    "/page.js": _file("page.js", _SCRIPT),
    "/show.js": _file("show.js", _SCRIPT),
    "/draw.js": _file("draw.js", _SCRIPT),
    "/link.js": _file("link.js", _SCRIPT),
    "/icon.svg": _file("icon.svg", "image/svg+xml"),
}
"""Address -> file."""
