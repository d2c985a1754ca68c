"""The command line: parse, call one command, print, exit code. Heavy imports stay inside the commands."""

from __future__ import annotations

import argparse
import atexit
import gc
import importlib
import io
import os
import sys
from collections.abc import Callable, Sequence
from typing import Any, Protocol, cast

from benchd import __version__
from benchd.cli_publish import publish_commands
from benchd.cli_words import FOLDERS, RUN_MORE, ending
from benchd.command.messages import nowhere, say
from benchd.command.meter.meter_options import add_meter_commands
from benchd.command.show.library_words import add_import, add_library
from benchd.errors import BenchdError, InputError, JournalError, ProfileError
from benchd.exits import EXIT_CODES, Exit

ABOUT = """\
benchd measures a computer display: it reads a test plan, shows the patches, reads a light meter,
keeps a durable log, and turns the log into results with their uncertainty.

Begin with:
  benchd demo                              the whole job on a simulated bench; needs no hardware
  benchd plan sdr-standard                 what a plan would do, and how long it takes
  benchd doctor                            which ports and screens this machine has
  benchd check --bench my-bench            a quick white, black and contrast
  benchd run sdr-standard --bench my-bench --sample plover-27/1
  benchd results LOG                       what a log says

A plan, bench, meter dialect or target is named by a path, or by its name in ./profiles or in the
profiles that come with benchd. Results go to stdout, progress and messages to stderr."""

CAUTION = """\
Caution: patches change between dark and bright, at most one change a second. Do not watch the screen
if flashing light can harm you. Bright static patches can leave an image on emissive panels."""


COLLECT_AFTER = 50_000
"""New objects before the collector of reference cycles looks at them; Python's own 700 is for small programs."""


class Command(Protocol):
    """Adds one command to the parser."""

    def __call__(self, name: str, about: str, more: str = "") -> argparse.ArgumentParser:
        """``about`` is its line in the list of commands, ``more`` what its own help adds."""


class _NotAsked:
    """Stands in for the parser of a command that nobody asked for: takes every option and does nothing."""

    def __getattr__(self, name: str) -> Callable[..., Any]:
        return lambda *words, **options: self


def build_parser(first: str = "") -> argparse.ArgumentParser:
    """The parser with every command and option; when ``first`` is a command, with that one alone, which is quicker."""
    codes = "\n".join(f"  {code.value}  {meaning}" for code, meaning in EXIT_CODES.items())
    parser = argparse.ArgumentParser(
        prog="benchd",
        description=ABOUT,
        epilog=f"exit codes:\n{codes}\n\n{CAUTION}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"benchd {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)

    def command(name: str, about: str, more: str = "") -> argparse.ArgumentParser:
        if first not in ("", name):
            return cast(argparse.ArgumentParser, _NotAsked())
        added = commands.add_parser(
            name,
            help=about,
            description=f"{about}\n\n{more}".strip(),
            epilog=ending(name),
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        added.set_defaults(module=f"benchd.command.{FOLDERS[name]}.{name}")
        return added

    _run_commands(command)
    _service_commands(command)
    _read_commands(command)
    add_library(command)
    add_import(command)
    publish_commands(command)
    add_meter_commands(command)
    return parser if commands.choices else build_parser()


def _run_commands(command: Command) -> None:
    demo = command(
        "demo",
        "run the main job on a simulated bench, without hardware or screen",
        "An invented display is measured with the plan sdr-standard on virtual time: its waits are skipped.\n"
        "Every figure is SIMULATED.",
    )
    displays = ("office", "wide", "emissive", "hdr-lcd", "hdr-zone-lcd", "hdr-emissive")
    demo.add_argument("--display", choices=displays, default="office", help="which display; hdr-…: plan hdr-standard")
    demo.add_argument("--night", action="store_true", help="the plan of a whole night instead (about 8 h, skipped)")
    demo.add_argument("--log", metavar="FILE", help="keep the log there (default: logs/demo/TIME.log)")
    demo.add_argument("--json", action="store_true", help="results as JSON")

    check = command(
        "check",
        "quick brightness and contrast: white, black, centre chromaticity, in under a minute",
        "Runs the plan `quick`; its log is a whole log that `benchd results` reads too.",
    )
    check.add_argument("--bench", required=True, metavar="BENCH", help="bench profile (name or path)")
    check.add_argument("--sample", default="check", help="name of the sample (default: check)")
    check.add_argument("--log", metavar="FILE", help="keep the log there (default: checks/TIME.log)")
    check.add_argument("--json", action="store_true", help="results as JSON")

    plan = command(
        "plan",
        "list what a plan would do: steps, moves, estimated time; opens no port",
        "Every fault of the file is reported at once as file:line:column.\n\n"
        "--json prints benchd.planned/1: plan, bench, simulated, steps, readings, moves, warm_up, time (seconds of\n"
        "bench time), by_hand, cautions, blocks; with --steps also list, every step with its patch, place and move.\n"
        "Of a plan with faults it prints them: file, line, column, text (exit code 2).",
    )
    plan.add_argument("plan", metavar="FILE", help="plan (name or path)")
    plan.add_argument("--bench", metavar="BENCH", help="bench profile, for a closer estimate")
    plan.add_argument("--steps", action="store_true", help="list every step and every move")
    plan.add_argument("--json", action="store_true", help="as JSON, for a script")

    run = command(
        "run",
        "run a plan on a bench and keep a log",
        RUN_MORE + CAUTION,
    )
    run.add_argument("plan", metavar="FILE", help="plan (name or path)")
    run.add_argument("--bench", required=True, metavar="BENCH", help="bench profile (name or path)")
    run.add_argument("--sample", default="sample", help="name of the sample: MODEL/UNIT, such as plover-27/1")
    run.add_argument("--note", default="", help="a note for the log: preset, brightness, cable")
    run.add_argument("--log", metavar="FILE", help="keep the log there (default: logs/SAMPLE/TIME.log)")

    resume = command(
        "resume",
        "go on with a paused or interrupted log",
        "Needs nothing but the log. Steps that are done are never repeated; the same meter and the same\n"
        "screen must answer.",
    )
    resume.add_argument("log", metavar="LOG|JOB", help="log file, or a job of the service such as j3")
    _talks(resume)


def _service_commands(command: Command) -> None:
    serve = command(
        "serve",
        "own a bench and run a queue of jobs, through nights and restarts",
        "The queue is on disk: a restart goes on with the job that ran. SIGTERM pauses after the reading.\n"
        "A unit for systemd comes with the profiles: systemd/benchd@.service.\n\n" + CAUTION,
    )
    serve.add_argument("--bench", required=True, metavar="BENCH", help="bench profile (name or path)")
    serve.add_argument("--folder", metavar="DIR", help="queue and logs (default: ~/.local/state/benchd/BENCH)")
    serve.add_argument("--socket", metavar="PATH", help="socket that it answers at (default: in the runtime folder)")
    serve.add_argument(
        "--http",
        type=int,
        metavar="PORT",
        help="also a page on 127.0.0.1:PORT (0: any free one); its link is in the folder",
    )
    serve.add_argument(
        "--on-event", default="", metavar="COMMAND", help="called when a job pauses, fails or completes; JSON on stdin"
    )
    serve.add_argument("--webhook", default="", metavar="URL", help="the same as a POST to http://127.0.0.1:PORT/…")
    serve.add_argument("--log-format", choices=("json", "text"), default="json", help="of the lines on stderr")
    serve.add_argument("--log-level", choices=("debug", "info", "warning", "error"), default="info", help="from which")

    submit = _talks(command("submit", "queue a plan with the service; the job's id goes to stdout"))
    submit.add_argument("plan", metavar="FILE", help="plan (name or path)")
    submit.add_argument("--sample", default="sample", help="name of the sample, such as plover-27/1")
    submit.add_argument("--note", default="", help="a note for the log: preset, brightness, cable")
    submit.add_argument("--not-before", default="", metavar="TIME", help="18:00, or 2026-03-02T18:00, or with offset")
    submit.add_argument("--priority", type=int, default=0, help="higher goes first (default: 0)")
    submit.add_argument(
        "--attended", action="store_true", help="somebody is there: to move or cap the meter, to set the display"
    )

    for name, about in (
        ("jobs", "list the jobs of the service, in the order in which they run"),
        ("watch", "follow the running job until it ends"),
    ):
        _talks(command(name, about)).add_argument("--json", action="store_true", help="as JSON")
    status = _talks(command("status", "what goes on; from the queue and the logs when no service answers"))
    status.add_argument("--folder", metavar="DIR", help="folder of a service that is not in its usual place")
    status.add_argument("--json", action="store_true", help="as JSON")
    for name, about in (
        ("pause", "pause a job after its reading; hold a queued one"),
        ("cancel", "take a job out of the queue, or end the running one"),
    ):
        _talks(command(name, about)).add_argument("job", metavar="JOB", help="such as j3")
    confirm = _talks(command("next", "the operator confirms the requested step: a move, the cap, a setting"))
    confirm.add_argument(
        "--again", action="store_true", help="it was not done before and is done only now, so read again"
    )
    _talks(command("stop", "pause the running job and end the service; the queue is kept"))


def _talks(parser: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """A command that talks to a service: which one."""
    parser.add_argument("--bench", metavar="BENCH", help="the service of this bench (default: the only one)")
    parser.add_argument("--socket", metavar="PATH", help="its socket (default: BENCHD_SOCKET, or as serve chose)")
    return parser


def _read_commands(command: Command) -> None:
    results = command("results", "compute and print the results of a log")
    results.add_argument("log", metavar="LOG", help="log file; one that is still being written is fine")
    results.add_argument("--target", metavar="TARGET", help="judge against another target (name or path)")
    results.add_argument("--details", action="store_true", help="every block of every point of a sweep")
    results.add_argument(
        "--no-compensation",
        action="store_true",
        help="leave the drift of the reference patch in, whatever the plan says",
    )
    results.add_argument(
        "--budget",
        metavar="FIGURE",
        nargs="?",
        const="",
        help="where the uncertainty comes from: of the main figures, or of one that is named as they are or by its "
        "path in the CSV, such as contrast/sequential/ratio; also with --json",
    )
    results.add_argument(
        "--cross-check",
        action="store_true",
        help="compute every colour figure again with colour-science, an independent library, and print the largest "
        "deviation of each kind; exit status 1 beyond its tolerance; also with --json",
    )
    form = results.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="as JSON (benchd.results/1)")
    form.add_argument("--csv", action="store_true", help="as CSV, one row a quantity")
    form.add_argument("--parquet", metavar="FILE", help="the same table to a Parquet file (needs pyarrow)")
    form.add_argument(
        "--colour-text",
        action="store_true",
        help="code and X, Y, Z of every patch in the open text format for colour data (after ISO 28178)",
    )

    replay = command(
        "replay",
        "run the plan of a log again with its recorded readings as the meter",
        "Says whether the results are identical, number for number.",
    )
    replay.add_argument("log", metavar="LOG", help="log file")
    replay.add_argument("--keep", metavar="FILE", help="keep the new log there")

    doctor = command(
        "doctor",
        "which ports, screens and parts of a bench answer, and how to mend those that don't",
        "With --bench the screen turns black and the meter takes one reading; nothing is moved, and nothing is set.\n"
        "Exit code 1 when a part does not answer.\n\n"
        "--json prints benchd.doctor/1: benchd, python, platform, libraries; without --bench: ports, screens,\n"
        "profiles; with it: bench (name, simulated, about, answers, parts). A part has part, ok, text, details.",
    )
    doctor.add_argument("--bench", metavar="BENCH", help="ask every part of this bench (name or path)")
    doctor.add_argument("--json", action="store_true", help="as JSON, for a script")

    window = command(
        "window",
        "what this computer's window can emit; with --listen, show patches for a run on another machine",
        "Without --listen the window is opened with 8 and with 10 bits and read back: black for a moment.\n"
        "With --listen it waits for one run at a time. Both machines share a secret in a token file, which is made\n"
        "when it is not there; the secret itself never goes over the network. When the link is lost the window\n"
        "turns black and closes, and the run can be resumed.",
    )
    window.add_argument("--listen", metavar="ADDRESS:PORT", help="wait for a run there; port 0: any free one")
    window.add_argument("--token-file", metavar="FILE", help="the shared secret (default: window.token)")
    window.add_argument("--monitor", default="primary", metavar="NAME", help="an output's name, or primary")
    window.add_argument("--bits", type=int, choices=(8, 10), default=8, help="bits a channel, with --listen")
    window.add_argument(
        "--signal",
        choices=("sdr", "pq", "hlg"),
        help="with --listen: what the cable carries, where you have set that up",
    )
    window.add_argument("--json", action="store_true", help="as JSON, without --listen")

    log = command("log", "verify a log, or salvage a damaged one")
    kinds = log.add_subparsers(dest="action", metavar="ACTION", required=True)
    verify = kinds.add_parser("verify", help="check every line: check sums, sequence, completeness")
    verify.add_argument("logs", metavar="LOG", nargs="+", help="log files")
    salvage = kinds.add_parser("salvage", help="write what is sound of a damaged log to a new file")
    salvage.add_argument("log", metavar="LOG", help="damaged log file; it is left as it is")
    salvage.add_argument("new", metavar="NEW", help="new log file")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code. Never lets a traceback out."""
    _start_quickly()
    _mend_streams()
    words = sys.argv[1:] if arguments is None else list(arguments)
    parser = build_parser(*words[:1])
    try:
        _refuse_bytes(words)
        parsed = parser.parse_args(words)
        code = importlib.import_module(parsed.module).main(parsed)
        sys.stdout.flush()
        return int(code)
    except InputError as error:
        return _say(error, Exit.BAD_INPUT)
    except JournalError as error:
        return _say(error, Exit.PAUSED)
    except BenchdError as error:
        return _say(error, Exit.NOT_STARTED)
    except KeyboardInterrupt:
        say("Stopped.")
        return Exit.NO
    except OSError as error:
        if not _output_is_lost():
            return _unknown(error)
        if isinstance(error, BrokenPipeError):
            return Exit.COMPLETE  # whoever read our output has seen enough (`| head`)
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
    atexit.register(gc.freeze)  # nor does the collection at the end of the process


def _mend_streams() -> None:
    """Descriptors that we were started without go nowhere, lest the next file that is opened becomes one.

    A sign that the terminal's character set lacks becomes a question mark.
    """
    for descriptor in range(3):
        try:
            os.fstat(descriptor)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # the lowest free number: this very descriptor
    sys.stdin = sys.stdin or open(0, closefd=False)  # noqa: SIM115 - as long as the process
    sys.stdout = sys.stdout or open(1, "w", closefd=False)  # noqa: SIM115
    sys.stderr = sys.stderr or open(2, "w", closefd=False)  # noqa: SIM115
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")


def _refuse_bytes(words: Sequence[str]) -> None:
    """Arguments go into logs and messages, so they must be text. Raises `InputError`."""
    for word in words:
        try:
            word.encode()
        except UnicodeEncodeError:
            raise InputError(f"the argument {word!a} is not UTF-8 text") from None


def _output_is_lost() -> bool:
    """True when stdout is what failed; it is thrown away from here on.

    A failed flush forgets what it held, so only another write tells: an empty line harms nobody.
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

    # The faults of a profile are a line each; all else is one sentence, whatever file it names.
    say(str(error) if isinstance(error, ProfileError) else printable(str(error)))
    return code


def _unknown(error: Exception) -> int:
    """A bug of ours: keep its details in a file, tell the operator one sentence."""
    import tempfile
    import traceback

    with tempfile.NamedTemporaryFile("w", prefix="benchd-error-", suffix=".txt", delete=False) as details:
        traceback.print_exception(error, file=details)
    say(
        f"benchd met an error it does not know ({type(error).__name__}: {error}). Readings in a log are safe. "
        f"Please report it with the file {details.name}"
    )
    return Exit.UNKNOWN


if __name__ == "__main__":
    sys.exit(main())
