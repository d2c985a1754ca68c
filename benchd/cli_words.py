"""Of every command: the end of its help (examples, exit codes), where it is done, and its options of before."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable, Sequence
from importlib import import_module

from benchd.command.options import Words
from benchd.errors import InputError
from benchd.exits import EXIT_CODES, Exit

RUN_MORE = """\
What it needs: a plan (`benchd plan FILE` checks it and estimates its time) and a bench (`benchd doctor --bench
BENCH` checks every part of it). Every reading is on disk before the next is taken.

Where the operator is needed (to move or cap the meter, to set the display) the terminal prompts; without a terminal the
run pauses there: do it, then resume, which takes it as done; where the light does not show it, the results report the
doubt. Ctrl-C or SIGTERM finishes the reading, shows black and pauses; `benchd resume LOG` goes on, also after a fault
or a power cut. Afterwards: `benchd results LOG`."""

EXAMPLES: dict[str, tuple[str, ...]] = {
    "demo": ("demo", "demo --display hdr-zone-lcd"),
    "check": ("check --bench sim-office", "check --bench my-bench --log check.log --json"),
    "plan": ("plan sdr-standard --bench sim-office", "plan my-plan.yaml --steps", "plan sdr-standard --json"),
    "run": (
        "run sdr-standard --bench my-bench --sample plover-27/1 --note 'preset standard, brightness 100'",
        "run hdr-standard --bench sim-hdr-lcd --sample godwit-32/1 --log godwit.log",
    ),
    "resume": ("resume logs/plover-27-1/2026-03-02T181204.log", "resume j3"),
    "serve": ("serve --bench my-bench --http 8080",),
    "submit": (
        "submit sdr-standard --sample plover-27/1 --attended",
        "submit night --sample plover-27/1 --not-before 22:00",
    ),
    "jobs": ("jobs", "jobs --json"),
    "watch": ("watch",),
    "status": ("status", "status --bench my-bench --json"),
    "pause": ("pause j3",),
    "cancel": ("cancel j3",),
    "next": ("next",),
    "stop": ("stop",),
    "results": (
        "results run.log",
        "results run.log --budget contrast",
        "results run.log --cross-check",
        "results run.log --format csv -o figures.csv",
    ),
    "replay": ("replay run.log",),
    "new": ("new plan evening", "new bench lab-2", "new claims plover-28", "new measurement 'gloss ratio'"),
    "help": ("help", "help plans", "help run"),
    "doctor": ("doctor", "doctor --bench my-bench"),
    "window": ("window", "window --listen 0.0.0.0:7070"),
    "log": ("log verify run.log", "log salvage damaged.log --log sound.log"),
    "library": (
        "library list",
        "library rank contrast",
        "library query 'contrast >= 1000 and sample = plover-27/*'",
        "library show plover-27/1",
        "library add run.log",
        "library site -o ranks.html",
        "library export --format parquet -o figures.parquet",
        "library rebuild",
    ),
    "import": (
        "import --plan quick --template > readings.csv",
        "import readings.csv --plan quick --sample plover-27/1",
    ),
    "report": ("report run.log -o page.html", "report sdr.log hdr.log --claims plover-27 -o verdict.html"),
    "publish": ("publish run.log -o verdict", "publish sdr.log hdr.log --claims plover-27 -o verdict"),
    "recheck": ("recheck verdict",),
    "compare": ("compare a.log b.log",),
    "claims": ("claims plover-27 run.log",),
    "correct": (
        "correct plover-white-led --reference reference-bench --bench my-bench",
        "correct plover-white-led pairs.csv --meter A 0007 --reference-meter B 0001 --technology white-led-lcd",
    ),
    "repeat": ("repeat quick 10 --bench my-bench", "repeat quick 12 --bench my-bench --placements 3"),
}

_RUNS = {
    Exit.PAUSED: "paused by a fault, a step for the operator, or Ctrl-C; `benchd resume LOG` goes on",
    Exit.NOT_STARTED: "a part of the bench did not answer; nothing was begun",
}
_SILENT = {Exit.NOT_STARTED: "no service answers; nothing was changed"}
_ASKS = {Exit.NO: "no such job, or it can't be done now", **_SILENT}

CODES: dict[str, dict[Exit, str]] = {
    "demo": _RUNS,
    "check": _RUNS,
    "plan": {},
    "run": _RUNS,
    "resume": {
        **_RUNS,
        Exit.NO: "no such job, or it can't be done now",
        Exit.NOT_STARTED: "a part of the bench, or for a job the service, did not answer; nothing was begun",
    },
    "serve": {
        Exit.COMPLETE: "it was stopped; the queue is on disk",
        Exit.NOT_STARTED: "another service has the bench, or its folder, socket or port can't be used",
    },
    "submit": {Exit.COMPLETE: "queued", Exit.NO: "the queue is full or can't be written", **_SILENT},
    "jobs": _SILENT,
    "watch": {
        Exit.COMPLETE: "the job is complete, or you stopped watching",
        Exit.NO: "it failed or was cancelled",
        Exit.PAUSED: "it is paused",
        **_SILENT,
    },
    "status": {Exit.NO: "no service answers, and there is no folder of one"},
    "pause": _ASKS,
    "cancel": _ASKS,
    "next": {Exit.NO: "nothing is waited for", **_SILENT},
    "stop": _SILENT,
    "results": {Exit.NO: "with --cross-check: a figure is beyond its tolerance"},
    "replay": {Exit.COMPLETE: "identical", Exit.NO: "the results differ"},
    "new": {},
    "help": {},
    "doctor": {Exit.NO: "a part of the bench does not answer"},
    "window": {Exit.NO: "no window can be opened"},
    "log": {Exit.NO: "damaged"},
    "library": {Exit.NO: "no log fulfils it, or a log that was to be added is damaged"},
    "import": {},
    "report": {},
    "publish": {},
    "recheck": {Exit.COMPLETE: "the same", Exit.NO: "something differs, and is named"},
    "compare": {Exit.COMPLETE: "compared, whatever the verdicts"},
    "claims": {Exit.COMPLETE: "checked, whatever the verdicts"},
    "correct": {Exit.PAUSED: "paused; the same command goes on"},
    "repeat": {Exit.PAUSED: "paused; the same command with --logs goes on"},
}
"""Beside these: 0 complete, 1 also when the output can't be written, 2 bad input, 70 an unknown error."""


def words(command: str) -> Words:
    """Of a command's help, or of an action's such as ``log verify``: its examples, and its end with the exit codes."""
    name = command.partition(" ")[0]
    examples = tuple(f"benchd {one}" for one in EXAMPLES[name] if one == command or one.startswith(f"{command} "))
    own = {
        Exit.COMPLETE: EXIT_CODES[Exit.COMPLETE],
        Exit.BAD_INPUT: "a file or an argument is not right; nothing was started",
        **CODES[name],
    }
    codes = "".join(f"  {code.value}  {own[code]}\n" for code in sorted(own))
    return examples, f"exit codes (all: benchd help exit-statuses):\n{codes}"


_PLACES = {
    **{name: f"measure.{name}:main" for name in ("new", "plan", "replay")},
    **{name: f"measure.run:main_{name}" for name in ("check", "demo", "resume", "run")},
    **{name: f"show.{name}:main" for name in ("library", "log", "results")},
    **{name: f"show.publish:main_{name}" for name in ("claims", "compare", "report")},
    "publish": "show.publication:main",
    "recheck": "show.recheck:main",
    "help": "show.topics:main",
    "import": "show.import_readings:main",
    "serve": "service.serve:main",
    **{name: f"service.watch:main_{name}" for name in ("status", "watch")},
    **{name: f"service.queue:main_{name}" for name in ("cancel", "jobs", "next", "pause", "stop", "submit")},
    **{name: f"meter.{name}:main" for name in ("correct", "doctor", "repeat", "window")},
}
"""Module (in benchd/command/) and function of each command."""


def main_of(command: str) -> Callable[[Namespace], int]:
    """What does a command; its module is imported now."""
    module, _, function = _PLACES[command].partition(":")
    found: Callable[[Namespace], int] = getattr(import_module(f"benchd.command.{module}"), function)
    return found


_CSV, _PARQUET = "--format csv", "--format parquet --output FILE"
RENAMED: dict[str, dict[str, str]] = {
    "results": {"--csv": _CSV, "--parquet": _PARQUET, "--colour-text": "--format colour-text"},
    "library": {"--csv": f"{_CSV} --output FILE", "--parquet": _PARQUET, "--force": "--yes", "--all": "--details"},
    "replay": {"--keep": "--log FILE"},
    "correct": {
        "--out": "--output FILE",
        "--csv": "benchd correct NAME PAIRS.csv",
        "--logs": "benchd correct NAME REFERENCE.log METER.log",
    },
    "repeat": {"--folder": "--logs DIR"},
}
"""Of a command: the options of before, and what each is now."""


def refuse_renamed(words: Sequence[str]) -> None:
    """Answer an option of before with its new name. Raises `InputError`."""
    renamed = RENAMED.get(words[0], {}) if words else {}
    for word in words[1:]:
        option = word.partition("=")[0]
        if option in renamed:
            raise InputError(f"{option} is now called: {renamed[option]}")
