"""``benchd resume``: go on with a log, from the file alone, or with a job of the service."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from benchd.command.measure.live import Live, stop_on_signals
from benchd.command.messages import say
from benchd.command.service.talk import JOB_ID, act
from benchd.errors import BenchdError, InputError, JournalError
from benchd.exits import Exit
from benchd.run.session import resume


def main(arguments: Namespace) -> Exit:
    """Resume; a part of the bench that does not answer leaves the log as resumable as it was."""
    log = Path(arguments.log)
    if JOB_ID.match(arguments.log) and not log.exists():
        arguments.job = arguments.log
        return act(arguments, "resume", "Job {id} goes on when it is its turn. See: benchd watch")
    if not log.exists():
        raise InputError(f"there is no log {log}; name a log, or a job of the service such as j3 (see: benchd jobs)")
    with stop_on_signals() as stop:
        live = Live(log, stop)
        try:
            outcome = resume(log, live.operator, live.observer)
        except (InputError, JournalError):
            raise
        except BenchdError as error:
            say(f"Still paused: {error}\nGo on with: benchd resume {log}")
            return Exit.PAUSED
        except KeyboardInterrupt:
            return live.stopped_at_once()
        code = live.finish(outcome)
    if code is Exit.COMPLETE:
        say(f"Results: benchd results {log}")
    return code
