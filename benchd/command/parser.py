"""The parser of the command line: help that begins with the answer, and one sentence for what is mistyped.

The parser of the standard library answers a wrong word with a wall of usage, and does not name the nearest word.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from typing import Any, NoReturn

from benchd.command.plain_text import rendered
from benchd.errors import InputError, did_you_mean

_NUMBER = re.compile(r"-[0-9.]")
_SENTENCES = (
    (r"(?:-\w/)?(-\S+): expected (?:one|at least one) argument", r"\1 needs a value after it"),
    (r"(?:-\w/)?(-\S+): expected (\d+) arguments", r"\1 needs \2 values after it"),
    (r"(\S+): invalid int value: (.*)", r"\1 \2: write a whole number"),
    (r"(\S+): invalid float value: (.*)", r"\1 \2: write a plain decimal, such as 0.5"),
    (r"(\S+): not allowed with argument (\S+)", r"\1 and \2 exclude each other; give one of them"),
)
"""What the standard library says of an argument, and our sentence."""


class Parser(argparse.ArgumentParser):
    """One command's parser. ``more`` and ``examples`` stand in its help; options are not abbreviated."""

    def __init__(self, *, more: str = "", examples: Sequence[str] = (), **settings: Any) -> None:
        super().__init__(formatter_class=argparse.RawDescriptionHelpFormatter, allow_abbrev=False, **settings)
        self._positionals.title = "arguments"
        self.more, self.examples = more, tuple(examples)

    def understood(self, words: Sequence[str]) -> argparse.Namespace:
        """The arguments. Raises `InputError` for words that mean nothing here."""
        command = self._known(words)
        parsed, more = self.parse_known_args(words)
        if more:
            raise InputError(f"`{command.prog}` takes no further word {more[0]!r}; {command._way_on()}")
        return parsed

    def format_help(self) -> str:
        """What it answers, how it is typed, then everything else."""
        formatter = self._get_formatter()
        formatter.add_text(self.description)
        formatter.add_text("\n".join(("examples:", *(f"  {one}" for one in self.examples))) if self.examples else None)
        formatter.add_usage(self.usage, self._actions, self._mutually_exclusive_groups)
        # Two less than the terminal has, as the options are wrapped.
        formatter.add_text(rendered(self.more, formatter._width).rstrip() if self.more else None)
        for group in self._action_groups:
            formatter.start_section(group.title)
            formatter.add_text(group.description)
            formatter.add_arguments(group._group_actions)
            formatter.end_section()
        formatter.add_text(rendered(self.epilog, formatter._width).rstrip() if self.epilog else None)
        return formatter.format_help()

    def error(self, message: str) -> NoReturn:
        """One sentence in place of the usage. Raises `InputError`."""
        text = message.removeprefix("argument ")
        if missing := re.fullmatch(r"the following arguments are required: (.*)", text):
            raise InputError(f"`{self.prog}` needs {missing[1]}; {self._way_on()}")
        for pattern, sentence in _SENTENCES:
            if found := re.fullmatch(pattern, text):
                raise InputError(f"{found.expand(sentence)}{self._values_of(found[1])}")
        raise InputError(f"{text}; {self._way_on()}")

    def _known(self, words: Sequence[str]) -> Parser:
        """The parser of the innermost command. Names a command or an option that there is not. Raises `InputError`."""
        commands = next((one for one in self._actions if isinstance(one, argparse._SubParsersAction)), None)
        options = [name for action in self._actions for name in action.option_strings]
        for index, word in enumerate(words):
            if word == "--":
                break
            if not word.startswith("-") or word == "-" or _NUMBER.match(word):
                if commands is None:
                    continue
                if word in commands.choices:
                    inner: Parser = commands.choices[word]
                    return inner._known(words[index + 1 :])
                near = did_you_mean(word, commands.choices, f"`{self.prog} --help` lists them", most=1, cutoff=0.6)
                raise InputError(f"`{self.prog}` has no command {word!r}; {near}")
            name = word.partition("=")[0]
            if name not in options and (word.startswith("--") or word[:2] not in options) and " " not in name:
                near = did_you_mean(name, options[1:], f"`{self.prog} --help` lists them", most=1, cutoff=0.6)
                raise InputError(f"`{self.prog}` has no option {name}; {near}")
        return self

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        if action.choices is not None and value not in action.choices:
            name = action.option_strings[-1] if action.option_strings else action.metavar
            known = [str(one) for one in action.choices]
            near = did_you_mean(str(value), known, f"`{self.prog} --help` explains each", most=1)
            raise InputError(f"{name} {value!r}: use {', '.join(known[:-1])} or {known[-1]}; {near}")

    def _values_of(self, option: str) -> str:
        """What an option takes, where it takes several values."""
        for one in self._actions:
            if option in one.option_strings and isinstance(one.metavar, tuple):
                return f": {option} {' '.join(one.metavar)}"
        return ""

    def _way_on(self) -> str:
        return f"for example: {self.examples[0]}" if self.examples else f"`{self.prog} --help` explains it"
