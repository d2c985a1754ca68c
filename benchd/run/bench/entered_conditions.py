"""What an operator answered of a sample's conditions on a bench, so that nothing is asked twice.

One small file a bench, in the user's state folder: what is true of the bench, and of each sample by its name. A
condition that was asked for and left out is kept too, as null. Without a folder that can be written, nothing is kept.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from benchd.clock import wall_label
from benchd.measuring_conditions import CONDITIONS, KINDS_OF_CONDITION, Value
from benchd.profile.conditions_model import condition_fault
from benchd.run.bench.recorded_conditions import Entered
from benchd.user_folders import state_folder

OF_BENCH, UNNAMED = "", " "
"""Names under which stand what is true of the bench, and that a sample without a name was asked about: which one it was
is not known, so that none of its values is kept.
"""


class EnteredConditions:
    """What was entered for one sample on one bench."""

    def __init__(self, bench: str, sample: str) -> None:
        self._path = state_folder() / bench / "conditions.json"
        self._sample = sample
        self._kept = _read(self._path)

    def known(self) -> dict[str, Entered]:
        """What was entered before, each with its day."""
        return {
            key: Entered(one["value"], one["when"])
            for key, one in self._found().items()
            if one["value"] is not None and not condition_fault(KINDS_OF_CONDITION[key], one["value"])
        }

    def asked(self) -> set[str]:
        """What was asked for before, entered or left out."""
        return set(self._found())

    def keep(self, entered: Mapping[str, Value], left_out: Iterable[str] = ()) -> None:
        """Keep what was entered today, and what was asked for and left out."""
        today = wall_label()[:10]
        for key, value in {**dict.fromkeys(left_out), **entered}.items():
            owner = self._owner(key)
            self._kept.setdefault(owner, {})[key] = {"value": None if owner == UNNAMED else value, "when": today}
        with suppress(OSError):
            self._path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            fresh = self._path.with_suffix(".part")
            fresh.write_text(json.dumps(self._kept, indent=1), encoding="utf-8")
            fresh.replace(self._path)

    def _owner(self, key: str) -> str:
        return OF_BENCH if KINDS_OF_CONDITION[key].of == "bench" else self._sample or UNNAMED

    def _found(self) -> dict[str, dict[str, Any]]:
        pairs = ((one.key, self._kept.get(self._owner(one.key), {}).get(one.key)) for one in CONDITIONS)
        return {key: one for key, one in pairs if isinstance(one, dict) and one.keys() >= {"value", "when"}}


def _read(path: Path) -> dict[str, dict[str, Any]]:
    """The file; nothing where it is not there or not ours."""
    try:
        found = json.loads(path.read_bytes())
    except (OSError, ValueError):
        return {}
    if not isinstance(found, dict):
        return {}
    return {str(owner): one for owner, one in found.items() if isinstance(one, dict)}
