"""``benchd resume``: go on with a log, from the file alone."""

from __future__ import annotations

import sys
from argparse import Namespace
from pathlib import Path

from benchd.command.live import Live, stop_on_signals
from benchd.errors import InputError, JournalError, MeterError, ScreenError
from benchd.exits import Exit
from benchd.run.session import resume


def main(arguments: Namespace) -> Exit:
    """Resume; a part of the bench that does not answer leaves the log as resumable as it was."""
    log = Path(arguments.log)
    live = Live(log)
    with stop_on_signals() as stop:
        try:
            outcome = resume(log, stop=stop, ask=live.ask(), observer=live.observer)
        except (InputError, JournalError):
            raise
        except (MeterError, ScreenError) as error:
            print(f"Still paused: {error}\nGo on with: benchd resume {log}", file=sys.stderr)
            return Exit.PAUSED
        code = live.finish(outcome)
    if code is Exit.COMPLETE:
        print(f"Results: benchd results {log}", file=sys.stderr)
    return code
