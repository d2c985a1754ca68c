"""``benchd new``: a plan or a bench to start from, or a package with a measurement of one's own."""

from __future__ import annotations

import re
import shlex
import sys
from argparse import Namespace
from pathlib import Path

from benchd.command.output import fresh, not_written
from benchd.errors import InputError
from benchd.exits import Exit
from benchd.profile.profile_store import profiles_folder, read_text
from benchd.profile.reading.values import name_fault
from benchd.report.words import printable

STARTERS = Path(__file__).resolve().parent.parent / "starters"
_HEAD = "# yaml-language-server: $schema="


def main(arguments: Namespace) -> Exit:
    """Write what is requested, and print the next command."""
    if arguments.action == "measurement":
        return _measurement(arguments.name, arguments.output)
    name, folder = arguments.name.removesuffix(".yaml"), _FOLDERS[arguments.action]
    if fault := name_fault(name):
        raise InputError(fault)
    path = Path(arguments.output or f"profiles/{folder}/{name}.yaml")
    shipped = profiles_folder() / folder / f"{name}.yaml"
    if shipped.exists() and shipped.resolve() != path.resolve():  # in a clone they are the same folder
        text = f"there is a {arguments.action} {name!r} already, {printable(str(shipped))}"
        raise InputError(f"{text}, and yours would hide it; take another name")
    text = (_plan if arguments.action == "plan" else _bench)(name)
    if arguments.output == "-":
        sys.stdout.write(text)
        return Exit.COMPLETE
    _write(path, text)
    print(f"{printable(str(path))}: open it in an editor; it loads as it is, and its comments explain each key. Then:")
    # A name is enough where profiles are looked for.
    typed = shlex.quote(str(path)) if arguments.output else name
    print(f"  benchd plan {typed}" if arguments.action == "plan" else f"  benchd doctor --bench {typed}")
    return Exit.COMPLETE


_FOLDERS = {"plan": "plans", "bench": "benches"}


def _plan(name: str) -> str:
    return f"{_schema('plan')}{_named(read_text(STARTERS / 'plan.yaml'), 'plan', name)}"


def _bench(name: str) -> str:
    """The template of a bench that comes with the profiles, without its first two lines on how to copy it."""
    text = read_text(profiles_folder() / "benches" / "my-bench.yaml")
    return f"{_schema('bench')}{_named(text.partition(chr(10))[2], 'bench', name)}"


def _schema(kind: str) -> str:
    """The first line, by which an editor completes the keys."""
    return f"{_HEAD}{profiles_folder() / 'schema' / f'{kind}.schema.json'}\n"


def _named(text: str, key: str, name: str) -> str:
    return re.sub(rf"(?m)^{key}: .*$", f"{key}: {name}", text, count=1)


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
