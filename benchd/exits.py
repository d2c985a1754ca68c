"""Exit codes of every command, with their meaning."""

from enum import IntEnum

from benchd import interrupt


class Exit(IntEnum):
    """What a command ended with."""

    COMPLETE = 0
    NO = 1
    BAD_INPUT = 2
    PAUSED = 3
    NOT_STARTED = 4
    UNKNOWN = 70
    STOPPED = interrupt.STOPPED


EXIT_CODES = {
    Exit.COMPLETE: "complete",
    Exit.NO: (
        "the answer is no: results differ, a log is damaged, a part of the bench does not answer, "
        "the output can't be written"
    ),
    Exit.BAD_INPUT: "bad input: a file or an argument; nothing was started",
    Exit.PAUSED: "paused, and resumable with `benchd resume LOG`",
    Exit.NOT_STARTED: "not started: a part of the bench, or its service, did not answer",
    Exit.UNKNOWN: "an unknown error; its details are in a file that is named",
    Exit.STOPPED: "stopped by Ctrl-C; a run that has begun is paused instead (3)",
}
"""Shown by ``benchd --help`` and checked against the documentation."""
