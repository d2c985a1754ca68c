"""Plans from their text: keys and values, the files that a plan names, and the pace of light and dark, all checked.

Besides its own files a plan needs colour spaces, charts and its target's figures from the store of profiles. Their
texts travel in the log with the plan's files, under keys such as ``spaces/p3-d65``, so that a resume and an
analysis need no store.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from benchd.errors import Fault, InputError, ProfileError
from benchd.plan.measurement import plan_part
from benchd.plan.plan import Plan
from benchd.plan.safety import faults_of_pace
from benchd.plan.steps import expand
from benchd.profile.profile_store import ProfileStore, ReadFile, find, load_space, load_target, read_text
from benchd.profile.reading.base import Wrong, items_of
from benchd.profile.reading.explain import faults_of, if_sound
from benchd.profile.reading.strict_yaml import causes_named, read_document

if TYPE_CHECKING:
    from benchd.profile.reading.base import Document, Path

_NAMES_NO_FILE: dict[str, Any] = {"luminance": {}}


def load_plan(text: str, name: str, read_file: ReadFile, find_target: Callable[[str], object] | None = None) -> Plan:
    """The plan in ``text``; ``name`` is the file's name for the operator.

    Checked whole: keys and values, the CSV files that it names, and that light and dark follow each other
    slowly enough. Where ``find_target`` is given it finds the target that the plan names, and may
    raise `InputError`. Raises `ProfileError` with every fault.
    """
    with causes_named(text, name, Plan.model_fields):
        return _load_plan(text, name, read_file, find_target)


def _load_plan(text: str, name: str, read_file: ReadFile, find_target: Callable[[str], object] | None) -> Plan:
    document = read_document(text, name)
    plan = faults_of(Plan, document)
    sound = plan or _sound_part(document.data)
    target = document.data.get("target")
    if find_target is not None and isinstance(target, str) and target:
        try:
            find_target(target)
        except InputError as error:
            document.at_value(("target",), str(error))
            # What blocks need of the target is reported with it.
            sound = sound and sound.model_copy(update={"target": Plan.model_fields["target"].default})
    files = _read_files(sound, document, read_file) | _read_needed(sound, document, read_file) if sound else {}
    if plan is not None and not document.faults:
        steps = expand(plan, files)
        if all(step.kind == "warm_up" for step in steps):
            document.at_key(("skip" if plan.skip else "blocks",), "every point is left out: nothing would be measured")
        for fault in faults_of_pace(plan, steps):
            keys = [path for path in fault.keys if path in document.keys]
            document.at_key(keys[0] if keys else fault.keys[-1], fault.text)
    if plan is None or document.faults:
        raise ProfileError(tuple(document.faults))
    return plan


def placed(faults: Iterable[Wrong], text: str, name: str) -> tuple[Fault, ...]:
    """``faults`` of the plan in ``text``, one a place; ``name`` as `load_plan`."""
    document = read_document(text, name)
    for one in faults:
        document.at_value(one.path, one.text)
    return tuple({(fault.line, fault.column): fault for fault in reversed(document.faults)}.values())


def _sound_part(data: Mapping[str, Any]) -> Plan | None:
    """A plan of the blocks that are right in one that has faults, at their places: files that they name are looked for.

    So a chart that there is not is reported together with a key that there is not.
    """
    scale = {key: data[key] for key in ("target", "signal", "bits") if key in data}

    def plan_of(blocks: list[Any]) -> Plan | None:
        return if_sound(Plan, {"plan": "part", **scale, "blocks": blocks})

    def alone(block: Any) -> Any:
        """Without the points of a sweep that it is measured at: the sweep may be what is wrong."""
        if isinstance(block, dict) and all(isinstance(body, dict) for body in block.values()):
            return {
                kind: {key: body[key] for key in body if key not in ("skip", "only")} for kind, body in block.items()
            }
        return _NAMES_NO_FILE

    blocks = [block if plan_of([block]) else _NAMES_NO_FILE for block in map(alone, items_of(data.get("blocks")))]
    return plan_of(
        [{kind: {**body, "name": f"part-{at}"} for kind, body in one.items()} for at, one in enumerate(blocks)]
    )


def plan_files(plan: Plan, read_file: ReadFile) -> Mapping[str, str]:
    """The text of every file that a loaded plan needs, by the name it uses, as `expand` wants it.

    ``read_file`` is tried first: what came with the plan, or is in the log, wins. Raises `InputError`.
    """
    needed = {f"{store}/{name}": _text(store, name, read_file) for _, store, name in _needed(plan)}
    return {file: read_file(file) for file in plan.files} | needed


def _read_files(plan: Plan, document: Document, read_file: ReadFile) -> dict[str, str]:
    """The plan's own files; one that can't be read is noted in ``document``."""
    files: dict[str, str] = {}
    for index, block in enumerate(plan.blocks):
        file = getattr(block.body, "file", None)
        if file is not None:
            try:
                files[file] = read_file(file)
            except (OSError, UnicodeError, LookupError, ValueError) as error:
                unreadable = "not UTF-8" if isinstance(error, UnicodeError) else "not there"
                why = (getattr(error, "strerror", None) or unreadable).lower()
                text = f"file '{file}' can't be read ({why}); it belongs beside the plan"
                document.at_value(("blocks", index, block.kind, "file"), text)
    return files


def _needed(plan: Plan) -> Iterator[tuple[Path, ProfileStore, str]]:
    """Every profile that the plan's blocks name: where it stands in the plan, its store and its name."""
    for index, block in enumerate(plan.blocks):
        for path, store, name in plan_part(block.kind).profiles(plan, block):
            yield ("blocks", index, block.kind, *path), store, name


def _read_needed(plan: Plan, document: Document, read_file: ReadFile) -> dict[str, str]:
    """The texts that `_needed` names; what is wrong is noted in ``document``, at the place of the name."""
    found: dict[str, str] = {}
    for path, store, name in _needed(plan):
        key = f"{store}/{name}"
        if key in found:
            continue
        try:
            found[key] = _text(store, name, read_file)
            if store == "spaces":
                load_space(found[key], f"{key}.yaml")
            elif store == "targets" and load_target(found[key], f"{key}.yaml").curve.kind == "gsdf":
                text = "the target's curve gsdf is for greys; name the space that makes the codes, such as space: srgb"
                document.at_value(path, text)
        except ProfileError as error:
            document.faults.extend(error.faults)
        except InputError as error:
            document.at_value(path, str(error))
    return found


def _text(store: ProfileStore, name: str, read_file: ReadFile) -> str:
    for key in (f"{store}/{name}", *((name,) if store == "targets" else ())):
        try:
            return read_file(key)
        except (OSError, UnicodeError, LookupError, ValueError):
            continue
    return read_text(find(store, name))
