"""The user's folders after the XDG Base Directory Specification 0.8: what is kept between two commands."""

from __future__ import annotations

import os
from pathlib import Path

LIBRARY_VARIABLE = "BENCHD_LIBRARY"
MOST_BYTES = 100  # of the name of a sample's folder


def state_folder() -> Path:
    """State that benchd can do without: services' folders, what screens reported of themselves."""
    return _folder("XDG_STATE_HOME", ".local/state")


def data_folder() -> Path:
    """What was measured, and of a bench what later runs use."""
    return _folder("XDG_DATA_HOME", ".local/share")


def library_folder() -> Path:
    """Where every command keeps its logs and looks for them: ``BENCHD_LIBRARY``, else ``logs`` in the data folder.

    One for all: what was measured in several working folders and by services was in none of the lists before.
    """
    given = os.environ.get(LIBRARY_VARIABLE, "")
    return Path(given).expanduser().absolute() if given else data_folder() / "logs"


def earlier_folders() -> tuple[Path, ...]:
    """Where earlier versions kept logs, as far as they are there: the current folder's, and those of services."""
    here = Path.cwd()
    found = (here / "logs", here / "checks", *sorted(state_folder().glob("*/logs")))
    return tuple(folder for folder in found if folder.is_dir())


def sample_folder(sample: str) -> str:
    """The name of a sample's folder, which leads out of no other one: ``plover-27-1``; "" where nothing is left."""
    safe = "".join(sign if sign.isalnum() or sign in "-_." else "-" for sign in sample)
    return safe.encode()[:MOST_BYTES].decode(errors="ignore").strip(".-")


def _folder(variable: str, usual: str) -> Path:
    """By the specification a relative path is ignored."""
    given = os.environ.get(variable, "")
    return (Path(given) if os.path.isabs(given) else Path.home() / usual) / "benchd"
