"""``benchd new``: a plan, a bench or a claim sheet to start from, or a package with a measurement of one's own."""

from __future__ import annotations

import re
import shlex
import sys
from argparse import Namespace
from pathlib import Path
from typing import NamedTuple

from benchd.command.output import fresh, not_written
from benchd.errors import InputError
from benchd.exits import Exit
from benchd.profile.profile_store import ProfileStore, profiles_folder, read_text
from benchd.profile.reading.values import name_fault
from benchd.report.words import printable

STARTERS = Path(__file__).resolve().parent.parent / "starters"


def main(arguments: Namespace) -> Exit:
    """Write what is requested, and print the next command."""
    if arguments.action == "measurement":
        return _measurement(arguments.name, arguments.output)
    name, folder = arguments.name.removesuffix(".yaml"), _KINDS[arguments.action].folder
    if fault := name_fault(name):
        raise InputError(fault)
    path = Path(arguments.output or f"profiles/{folder}/{name}.yaml")
    shipped = profiles_folder() / folder / f"{name}.yaml"
    if shipped.exists() and shipped.resolve() != path.resolve():  # in a clone they are the same folder
        text = f"there is a {_KINDS[arguments.action].called} {name!r} already, {printable(str(shipped))}"
        raise InputError(f"{text}, and yours would hide it; take another name")
    text = _text(arguments.action, name)
    if arguments.output == "-":
        sys.stdout.write(text)
        return Exit.COMPLETE
    _write(path, text)
    print(f"{printable(str(path))}: open it in an editor; it loads as it is, and its comments explain each key. Then:")
    # A name is enough where profiles are looked for.
    typed = shlex.quote(str(path)) if arguments.output else name
    print(f"  benchd {_KINDS[arguments.action].next.format(typed)}")
    return Exit.COMPLETE


class _Kind(NamedTuple):
    """A kind of profile; ``key``: that of its name; ``next``: the command that takes it."""

    called: str
    folder: ProfileStore
    key: str
    next: str


_KINDS = {
    "plan": _Kind("plan", "plans", "plan", "plan {}"),
    "bench": _Kind("bench", "benches", "bench", "doctor --bench {}"),
    "claims": _Kind("claim sheet", "claims", "sheet", "claims {} LOG"),
}


def _text(kind: str, name: str) -> str:
    """What it starts as, under its name. The bench is one of the profiles, without its line for an editor."""
    if kind == "bench":
        text = read_text(profiles_folder() / "benches" / "my-bench.yaml").partition("\n")[2]
    else:
        text = read_text(STARTERS / f"{kind}.yaml")
    schema = f"# yaml-language-server: $schema={profiles_folder() / 'schema' / f'{kind}.schema.json'}\n"
    key = _KINDS[kind].key
    return schema + re.sub(rf"(?m)^{key}: .*$", f"{key}: {name}", text, count=1)


def _write(path: Path, text: str) -> None:
    """A new file; nothing is written over. Raises `InputError`."""
    fresh(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise not_written(path, error) from None


def _measurement(name: str, output: str | None) -> Exit:
    from benchd.testing.new_measurement import write  # what it needs, a plan does not

    folder = Path(output or "-".join(name.replace("_", " ").split()))
    for path in write(name, folder):
        print(path)
    print(f"\nInstall it beside benchd (pip install -e {folder}) and run its test; `benchd doctor` lists it.")
    return Exit.COMPLETE
