"""Plans from their text: keys and values, the files that a plan names, and the pace of light and dark, all checked.

Models and the YAML parser are imported only when a plan is loaded, so that a help text does not wait for them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from benchd.errors import InputError
from benchd.profile.profile_store import ReadFile

if TYPE_CHECKING:
    from benchd.plan.plan import Plan


def load_plan(text: str, name: str, read_file: ReadFile, find_target: Callable[[str], object] | None = None) -> Plan:
    """The plan in ``text``; ``name`` is the file's name for the operator.

    Checked whole: keys and values, the CSV files that it names, and that light and dark follow each other
    slowly enough. Where ``find_target`` is given it finds the target that the plan names, and may
    raise `InputError`. Raises `ProfileError` with every fault.
    """
    from benchd.errors import ProfileError
    from benchd.plan.plan import Plan
    from benchd.plan.profile_dependencies import read_needed
    from benchd.plan.safety import faults_of_pace
    from benchd.plan.steps import expand
    from benchd.profile.reading.explain import faults_of
    from benchd.profile.reading.strict_yaml import read_document

    document = read_document(text, name)
    plan = faults_of(Plan, document)
    target = document.data.get("target")
    if find_target is not None and isinstance(target, str) and target:
        try:
            find_target(target)
        except InputError as error:
            document.at_value(("target",), str(error))
    if plan is None or document.faults:
        raise ProfileError(tuple(document.faults))
    files: dict[str, str] = {}
    for index, block in enumerate(plan.blocks):
        file = getattr(block.body, "file", None)
        if file is not None:
            try:
                files[file] = read_file(file)
            except (OSError, UnicodeError, LookupError, ValueError) as error:
                why = getattr(error, "strerror", None) or (
                    "not UTF-8" if isinstance(error, UnicodeError) else "not there"
                )
                told = f"file '{file}' can't be read ({why.lower()}); it belongs beside the plan"
                document.at_value(("blocks", index, block.kind, "file"), told)
    files |= read_needed(plan, document, read_file)
    if document.faults:
        raise ProfileError(tuple(document.faults))
    for fault in faults_of_pace(plan, expand(plan, files)):
        keys = [path for path in fault.keys if path in document.keys]
        document.at_key(keys[0] if keys else fault.keys[-1], fault.text)
    if document.faults:
        raise ProfileError(tuple(document.faults))
    return plan


def plan_files(plan: Plan, read_file: ReadFile) -> Mapping[str, str]:
    """The text of every file that a loaded plan needs, by the name it uses, as `expand` wants it."""
    from benchd.plan.profile_dependencies import profile_dependencies

    return {file: read_file(file) for file in plan.files} | profile_dependencies(plan, read_file)
