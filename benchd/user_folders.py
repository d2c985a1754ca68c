"""The user's folders after the XDG Base Directory Specification 0.8: what is kept between two commands."""

from __future__ import annotations

import os
from pathlib import Path


def state_folder() -> Path:
    """State that benchd can do without: services' folders, what screens reported of themselves."""
    return _folder("XDG_STATE_HOME", ".local/state")


def data_folder() -> Path:
    """What was measured of a bench and is used by later runs."""
    return _folder("XDG_DATA_HOME", ".local/share")


def _folder(variable: str, usual: str) -> Path:
    """By the specification a relative path is ignored."""
    given = os.environ.get(variable, "")
    return (Path(given) if os.path.isabs(given) else Path.home() / usual) / "benchd"
