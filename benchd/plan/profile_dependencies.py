"""What a plan needs from the store of profiles besides its own files: colour spaces, charts, and its target's figures.

Their texts travel in the log with the plan's files, under keys such as ``spaces/display-p3``, so that a resume
and an analysis need no store.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING

from benchd.errors import InputError, ProfileError
from benchd.plan.measurement import plan_part
from benchd.profile.profile_store import ProfileStore, ReadFile, find, load_target, read_text

if TYPE_CHECKING:
    from benchd.plan.plan import Plan
    from benchd.profile.reading.base import Path
    from benchd.profile.reading.document import Document


def needed(plan: Plan) -> Iterator[tuple[Path, ProfileStore, str]]:
    """Every profile that the plan's blocks name: where it stands in the plan, its store and its name."""
    for index, block in enumerate(plan.blocks):
        for path, store, name in plan_part(block.kind).profiles(plan, block):
            yield ("blocks", index, block.kind, *path), store, name


def profile_dependencies(plan: Plan, read_file: ReadFile) -> dict[str, str]:
    """The texts that `needed` names.

    ``read_file`` is tried first: what came with the plan, or is in the log, wins. Raises `InputError`.
    """
    wanted = [(store, name) for _, store, name in needed(plan)]
    return {f"{store}/{name}": _text(store, name, read_file) for store, name in wanted}


def read_needed(plan: Plan, document: Document, read_file: ReadFile) -> dict[str, str]:
    """`profile_dependencies`; what is wrong is noted in ``document``, at the place of the name."""
    from benchd.profile.reading.strict_yaml import load_model
    from benchd.profile.space import Space

    readers: Mapping[str, Callable[[str, str], object]] = {
        "spaces": lambda text, name: load_model(Space, text, name),
        "targets": lambda text, name: _for_colours(text, name),
    }
    found: dict[str, str] = {}
    for path, store, name in needed(plan):
        key = f"{store}/{name}"
        if key in found:
            continue
        try:
            found[key] = _text(store, name, read_file)
            if store in readers:
                readers[store](found[key], f"{key}.yaml")
        except ProfileError as error:
            document.faults.extend(error.faults)
        except InputError as error:
            document.at_value(path, str(error))
    return found


def _for_colours(text: str, name: str) -> None:
    if load_target(text, name).curve.kind == "gsdf":
        raise InputError(
            "the target's curve gsdf is for greys; name the space that makes the codes, such as space: srgb"
        )


def _text(store: ProfileStore, name: str, read_file: ReadFile) -> str:
    for key in (f"{store}/{name}", *((name,) if store == "targets" else ())):
        try:
            return read_file(key)
        except (OSError, UnicodeError, LookupError, ValueError):
            continue
    return read_text(find(store, name))
