"""Commands as data: what each is for, and its options in the order of its help."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from benchd.command.log_names import log_named
from benchd.command.parser import Parser

Words = tuple[Sequence[str], str | None]
"""Of a command's help: its examples, and its end."""

CAUTION = """\
Caution: patches change between dark and bright, at most one change a second. Do not watch the screen
if flashing light can harm you. Bright static patches can leave an image on emissive panels."""


class Option(NamedTuple):
    """One option or argument, in the words of `ArgumentParser.add_argument`."""

    names: tuple[str, ...]
    settings: dict[str, Any]


class OneOf(NamedTuple):
    """Options of which at most one is given."""

    options: tuple[Option, ...]


class Command(NamedTuple):
    """One command. ``about`` is its line in the list of commands, ``more`` what its own help adds."""

    name: str
    about: str
    more: str = ""
    options: Sequence[Option | OneOf] = ()
    actions: Sequence[Command] = ()
    """Where it is a word with commands of its own, such as ``log verify``."""
    lights: bool = False
    """It lights the screen, or lets a service do so: its help has the `CAUTION`."""


def option(*names: str, **settings: Any) -> Option:
    """An option of a command."""
    return Option(names, settings)


def one_of(*options: Option) -> OneOf:
    """Options that exclude each other."""
    return OneOf(options)


def formats(*more: str, about: str = "how the result is printed") -> OneOf:
    """``--format``, with ``--json`` as its short form; ``more``: formats besides text and JSON."""
    return one_of(
        option("--format", choices=("text", "json", *more), default="text", help=f"{about} (default: text)"),
        option("--json", dest="format", action="store_const", const="json", help="short for --format json"),
    )


def new_log(folder: str) -> Option:
    """Where a command keeps the log that it makes: else in the library, in the ``folder`` of a sample."""
    return option("--log", metavar="FILE", help=f"keep the log there (default: {folder}/TIME.log in the library)")


def sample(about: str = "name of the sample, such as plover-27/1") -> Option:
    """What is measured. Without a name every log is a sample of its own."""
    return option("--sample", default="", help=f"{about} (default: none, a sample of its own)")


FORMATS = formats()
LOG = option("log", metavar="LOG", type=log_named, help="log file, or a log or a sample of the library")
LOGS = option("logs", metavar="LOG", nargs="+", type=log_named, help="log files, or logs or samples of the library")
PLAN = option("plan", metavar="PLAN", help="plan (name or path)")
BENCH = option("--bench", required=True, metavar="BENCH", help="bench profile (name or path)")
NOTE = option("--note", default="", help="a note for the log")
CONDITION = option(
    "--condition",
    action="append",
    default=[],
    metavar="NAME=VALUE",
    help="a condition to record, such as preset=standard or room_temperature_c=23 (names: profiles/KEYS.md)",
)
TARGET = option("--target", metavar="TARGET", help="judge against another target (name or path)")
YES = option(
    "--yes", action="store_true", help="replace another file too (an earlier output of the same kind always is)"
)
OF_A_SERVICE = (
    option("--bench", metavar="BENCH", help="the service of this bench (default: the only one)"),
    option("--socket", metavar="PATH", help="its socket (default: BENCHD_SOCKET, or as serve chose)"),
)
"""Which service a command talks to."""


def add_to(commands: Any, command: Command, words: Callable[[str], Words], name: str = "") -> None:
    """Add a command, with its actions, to the sub-parsers of a `Parser`; ``words``: of its help, by its name."""
    name = f"{name} {command.name}".strip()
    examples, ending = words(name)
    parser: Parser = commands.add_parser(
        command.name,
        help=command.about,
        description=f"{command.about[:1].upper()}{command.about[1:]}.",
        more="\n\n".join(filter(None, (command.more, CAUTION if command.lights else ""))),
        examples=examples,
        epilog=ending,
    )
    for one in command.options:
        group = parser.add_mutually_exclusive_group() if isinstance(one, OneOf) else parser
        for each in one.options if isinstance(one, OneOf) else (one,):
            group.add_argument(*each.names, **each.settings)
    if command.actions:
        actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
        for action in command.actions:
            add_to(actions, action, words, name)
