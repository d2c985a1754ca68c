"""The command line: parse, call one command, print, exit code. Heavy imports stay inside the commands."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence

from benchd import __version__
from benchd.cli_commands import HELP, MEASURE, METER, SERVICE
from benchd.cli_results import RESULTS
from benchd.cli_words import main_of, refuse_renamed, words
from benchd.command.messages import nowhere, say
from benchd.command.options import CAUTION, add_to
from benchd.command.parser import Parser
from benchd.command.show.library_words import LIBRARY
from benchd.command.streams import mend_streams
from benchd.errors import BenchdError, InputError, JournalBusy, JournalError, ProfileError
from benchd.exits import EXIT_CODES, Exit

ABOUT = """\
benchd measures a computer display: it reads a test plan, shows the patches, reads
a light meter, keeps a durable log, and turns the log into results with their
uncertainty.

Begin with:
  benchd demo                        the whole job on a simulated bench
  benchd help                        topics that are explained, such as plans
  benchd plan sdr-standard           what a plan would do, and how long it takes
  benchd new bench lab-2             a bench of your own to start from
  benchd doctor --bench lab-2        does every part of it answer?
  benchd check --bench lab-2         a quick white, black and contrast
  benchd run sdr-standard --bench lab-2 --sample plover-27/1
  benchd results LOG                 the results of a log

A plan, bench, meter dialect or target is named by a path, or by its name in
./profiles or in the profiles that come with benchd. Results go to stdout,
progress and messages to stderr."""

COLLECT_AFTER = 50_000
"""New objects before the collector of reference cycles looks at them; Python's own 700 is for small programs."""

_CODES = {
    InputError: Exit.BAD_INPUT,
    JournalBusy: Exit.NOT_STARTED,
    JournalError: Exit.PAUSED,
    BenchdError: Exit.NOT_STARTED,
}
COMMANDS = (*MEASURE, *SERVICE, *RESULTS, *LIBRARY, *METER, *HELP)


def build_parser(first: str = "") -> Parser:
    """The parser with every command and option; when ``first`` is a command, with that one alone, which is quicker."""
    codes = "\n".join(f"  {code.value}  {meaning}" for code, meaning in EXIT_CODES.items())
    parser = Parser(prog="benchd", description=ABOUT, epilog=f"exit codes:\n{codes}\n\n{CAUTION}")
    parser.add_argument("--version", action="version", version=f"benchd {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for command in COMMANDS:
        if first in ("", command.name):
            add_to(commands, command, words)
    return parser if commands.choices else build_parser()


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code. Never lets a traceback out."""
    _start_quickly()
    mend_streams()
    typed = sys.argv[1:] if arguments is None else list(arguments)
    parser = build_parser(*typed[:1])
    try:
        _refuse_bytes(typed)
        refuse_renamed(typed)
        parsed = parser.understood(typed)
        if parsed.command == "results":
            gc.set_threshold(10 * COLLECT_AFTER)  # it ends before there is enough to be looked through
        code = main_of(parsed.command)(parsed)
        sys.stdout.flush()
        return int(code)
    except BenchdError as error:
        return _say(error, next(code for kind, code in _CODES.items() if isinstance(error, kind)))
    except OSError as error:
        if not _output_is_lost():
            if error.filename is None:
                return _unknown(error)
            say(f"{error.filename}: {(error.strerror or 'it cannot be used').lower()}; name another file or folder")
            return Exit.BAD_INPUT
        if isinstance(error, BrokenPipeError):
            return Exit.COMPLETE  # the reader of the output has seen enough (`| head`)
        say(f"the results can't be written to the output ({error.strerror}); what is in a log is safe")
        return Exit.NO
    except Exception as error:
        return _unknown(error)


def _start_quickly() -> None:
    """What a process of ours does without, since nothing in it would gain by it."""
    # numpy's linear algebra starts a thread for every core at its import, and we only add and multiply.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # Modules, models and results live as long as a command: to look through them again and again finds nothing.
    gc.set_threshold(COLLECT_AFTER)


def _refuse_bytes(words: Sequence[str]) -> None:
    """Arguments go into logs and messages, so they must be text. Raises `InputError`."""
    for word in words:
        try:
            word.encode()
        except UnicodeEncodeError:
            raise InputError(f"the argument {word!a} is not UTF-8 text") from None


def _output_is_lost() -> bool:
    """True when stdout is what failed; it is thrown away from here on.

    A failed flush forgets what it held, so only another write shows it; an empty line does no harm.
    """
    try:
        sys.stdout.write("\n")
        sys.stdout.flush()
    except OSError:
        nowhere(sys.stdout.fileno())
        return True
    return False


def _say(error: BenchdError, code: Exit) -> int:
    from benchd.report.words import printable

    # The errors in a profile are a line each; all else is one sentence, whatever file it names.
    say(str(error) if isinstance(error, ProfileError) else printable(str(error)))
    return code


def _unknown(error: Exception) -> int:
    """An unknown error: its details go into a file, one sentence to the operator."""
    import tempfile
    import traceback

    with tempfile.NamedTemporaryFile("w", prefix="benchd-error-", suffix=".txt", delete=False) as details:
        traceback.print_exception(error, file=details)
    say(
        f"unknown error ({type(error).__name__}: {error}). Readings in a log are safe. "
        f"Please report it with the file {details.name}"
    )
    return Exit.UNKNOWN
