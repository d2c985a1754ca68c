"""What a bench's screen reported of itself when it was last open, kept for checks that open nothing.

One small file a bench, in the user's state folder. It holds for the screen that the bench profile names now: with
another screen or another companion in the profile, nothing is known.
"""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from benchd.clock import wall_label
from benchd.user_folders import state_folder

if TYPE_CHECKING:
    from benchd.patch.screen import ScreenIdentity
    from benchd.profile.bench import Bench


@dataclass(frozen=True, slots=True)
class KnownScreen:
    """A screen's report, and when it was made (wall-clock label)."""

    identity: ScreenIdentity
    seen: str


def known_screen(bench: Bench) -> KnownScreen | None:
    """What is known of the screen of ``bench``; None where it was never open, or is another one."""
    try:
        found = json.loads(_path(bench).read_bytes())
        if found["profile"] != _profile(bench):
            return None
        from benchd.patch.screen import ScreenIdentity  # before it was open once, nothing is known

        return KnownScreen(ScreenIdentity(**found["screen"]), str(found["seen"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def keep_known_screen(bench: Bench, screen: ScreenIdentity) -> None:
    """Keep what ``screen`` reported. A folder that can't be written costs that knowledge only."""
    path = _path(bench)
    fresh = path.with_name(f".{path.name}.{os.getpid()}")
    body = {"profile": _profile(bench), "seen": wall_label(), "screen": asdict(screen)}
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with fresh.open("w", encoding="utf-8") as stream:
            json.dump(body, stream)
            stream.flush()
            os.fsync(stream.fileno())
        fresh.replace(path)


def _path(bench: Bench) -> Path:
    return state_folder() / bench.bench / "screen.json"


def _profile(bench: Bench) -> str:
    """A digest of what decides which screen is opened."""
    text = json.dumps([bench.screen.model_dump(mode="json"), [one.model_dump() for one in bench.companions]])
    return hashlib.sha256(text.encode()).hexdigest()
