"""Packages beside benchd, installed for one test: a folder on the path with the package and its metadata."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from benchd import installed

MEASUREMENTS, INSTRUMENTS = "benchd.measurements", "benchd.instruments"


def write(folder: Path, distribution: str, entries: Mapping[str, Mapping[str, str]], version: str = "1.2") -> None:
    """The metadata of an installed distribution: group -> name -> package."""
    info = folder / f"{distribution.replace('-', '_')}-{version}.dist-info"
    info.mkdir(parents=True)
    (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {distribution}\nVersion: {version}\n")
    lines = ((f"[{group}]", *(f"{name} = {to}" for name, to in rows.items())) for group, rows in entries.items())
    (info / "entry_points.txt").write_text("\n".join(line for group in lines for line in group))


def package(folder: Path, name: str, **modules: str) -> None:
    """A package whose modules have these texts; ``init`` is that of the package itself."""
    place = folder / name
    place.mkdir(parents=True)
    for module, text in {"init": '"""Invented."""\nAPI = 1\n', **modules}.items():
        (place / f"{'__init__' if module == 'init' else module}.py").write_text(text)


@contextmanager
def on_path(folder: Path) -> Iterator[None]:
    """What ``folder`` has is installed; afterwards nothing of it is known any more."""
    known = set(sys.modules)
    sys.path.insert(0, str(folder))
    importlib.invalidate_caches()
    installed.forget()
    try:
        yield
    finally:
        sys.path.remove(str(folder))
        for module in set(sys.modules) - known:
            if str(getattr(sys.modules[module], "__file__", "") or "").startswith(str(folder)):
                del sys.modules[module]
        installed.forget()
