"""``benchd replay``: the same plan, with the recorded readings as the meter."""

from __future__ import annotations

import tempfile
from argparse import Namespace
from functools import partial
from pathlib import Path

from benchd.analysis.analyse import analyse
from benchd.command.messages import say
from benchd.command.output import fresh
from benchd.exits import Exit
from benchd.interrupt import Undo
from benchd.report.data.document import Json, to_json
from benchd.report.data.log_reference import LogReference
from benchd.report.terminal.compare_options import APART, REPLAYED, difference
from benchd.run.log.journal import LogFile
from benchd.run.log.replay_log import replay

SHOWN = 20


def main(arguments: Namespace) -> Exit:
    """Replay and compare; exit code 0 when identical, 1 when not."""
    log = Path(arguments.log)
    temporary = tempfile.TemporaryDirectory(prefix="benchd-replay-")
    with temporary as folder, Undo(temporary.cleanup):
        again = fresh(Path(arguments.new)) if arguments.new else Path(folder) / "again.log"
        with Undo(partial(again.unlink, missing_ok=True)):
            outcome = replay(log, again)
        if not outcome.complete:
            say(f"The replay stopped at {outcome.step}: {outcome.why}")
            return Exit.NO
        first, second = (_figures(path) for path in (log, again))
    differing = difference(first, second, REPLAYED, APART)
    notice = f"{first['notice']}: " if first["notice"] else ""
    if not differing:
        print(f"{notice}identical: every figure of {first['readings']} readings agrees to the last bit")
        return Exit.COMPLETE
    print(f"{notice}not identical: {len(differing)} figures differ (log / replay)")
    for line in differing[:SHOWN]:
        print(f"  {line}")
    if len(differing) > SHOWN:
        print(f"  and {len(differing) - SHOWN} more")
    return Exit.NO


def _figures(log: Path) -> Json:
    file = LogFile(log)
    return to_json(analyse(file.records()), LogReference(str(log), file.sha256))
