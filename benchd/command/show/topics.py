"""``benchd help``: texts that explain, from ``benchd/command/topics/``; the list of them; the help of a command."""

from __future__ import annotations

import re
import shutil
from argparse import Namespace
from collections import Counter
from pathlib import Path

from benchd.command.plain_text import rendered
from benchd.errors import InputError, did_you_mean
from benchd.exits import Exit
from benchd.profile.profile_store import profiles_folder

FOLDER = Path(__file__).resolve().parent.parent / "topics"
FIRST = ("start", "plans", "bench", "results", "uncertainty")
"""The topics that stand first in the list: what a newcomer asks."""
MOST_COLUMNS = 100
"""Longer lines are hard to read."""
NEAR = 0.75
"""How like a topic's name a word must be (0 to 1) to be taken for it mistyped, and no word of a text."""
MOST_NAMED = 2


def topics() -> dict[str, str]:
    """Name -> Markdown of every topic, in the order of the list."""
    found = {path.stem: path.read_text(encoding="utf-8") for path in sorted(FOLDER.glob("*.md"))}
    return {name: found[name] for name in sorted(found, key=lambda one: FIRST.index(one) if one in FIRST else 99)}


def main(arguments: Namespace) -> Exit:
    """Print one topic, a command's help, or the list of topics."""
    columns = min(shutil.get_terminal_size((80, 24)).columns, MOST_COLUMNS)
    words = " ".join(arguments.topic)
    name, texts = words.lower().replace(" ", "-").removesuffix(".md"), topics()
    if not name:
        print(rendered(_list(texts), columns), end="")
        return Exit.COMPLETE
    from benchd.cli import COMMANDS, build_parser  # the table of all commands, which this one is part of

    if name in texts:
        print(rendered(texts[name], columns), end="")
        if any(one.name == name for one in COMMANDS):
            print(f"\nIts options: benchd {name} --help")
        return Exit.COMPLETE
    if any(one.name == arguments.topic[0] for one in COMMANDS):
        build_parser().parse_args([*arguments.topic, "--help"])
    known = [*texts, *(one.name for one in COMMANDS)]
    near = did_you_mean(name, known, _where(words, texts), most=1, cutoff=NEAR)
    raise InputError(f"there is no topic {words!r}; {near}")


def _where(words: str, texts: dict[str, str]) -> str:
    """The topics that speak of it most, as the end of a sentence."""
    found = Counter({name: len(re.findall(rf"(?i)\b{re.escape(words)}", text)) for name, text in texts.items()})
    spoken_of = [f"`benchd help {name}`" for name, times in found.most_common(MOST_NAMED) if times]
    return f"see {' or '.join(spoken_of)}" if spoken_of else "`benchd help` lists the topics"


def _list(texts: dict[str, str]) -> str:
    rows = "".join(f"| {name} | {text.partition(chr(10))[0].lstrip('# ')} |\n" for name, text in texts.items())
    return (
        f"benchd help TOPIC explains one of these. The options of a command: benchd COMMAND --help\n\n{rows}\n"
        f"All keys of plans, benches and other profiles, with their meaning: {profiles_folder() / 'KEYS.md'}\n"
    )
