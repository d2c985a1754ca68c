"""``benchd log verify|salvage``."""

from __future__ import annotations

from argparse import Namespace
from functools import partial
from pathlib import Path

from benchd.clock import RealClock
from benchd.command.log_names import as_typed
from benchd.command.measure.log_cautions import say_cautions_of
from benchd.command.messages import say
from benchd.command.output import fresh
from benchd.errors import LogRefused
from benchd.exits import Exit
from benchd.interrupt import Undo
from benchd.report.words import SIMULATED, count, printable, readings_words
from benchd.run.log.journal import LogFile
from benchd.run.log.records import RunState, fold
from benchd.run.log.salvage import salvage
from benchd.run.session import new_session


def main(arguments: Namespace) -> Exit:
    """Verify or salvage."""
    if arguments.action == "verify":
        answers = [_verify(Path(name)) for name in arguments.logs]
        return Exit.COMPLETE if all(answers) else Exit.NO
    new = fresh(Path(arguments.new))
    with Undo(partial(new.unlink, missing_ok=True)):
        counts = salvage(Path(arguments.log), new, RealClock(), new_session())
    simulated = say_cautions_of(new)
    left = f"{counts.damaged} damaged or missing, {counts.undone} that rested on them"
    state = fold(LogFile(new).records())
    steps = int(state.started.body.get("steps", 0)) - state.steps_done if state.started else 0
    lost = f"{count(steps, 'step is', 'steps are')} still to be measured" if steps > 0 else "No step is lost"
    again = f"left out: {left}. {lost}; go on with: benchd resume {arguments.new}"
    print(
        f"{printable(arguments.new)}: {SIMULATED + ', ' if simulated else ''}{counts.kept} records kept; "
        + (again if counts.damaged or counts.undone else "none was damaged, so it is a copy")
    )
    return Exit.COMPLETE


def _verify(path: Path) -> bool:
    log = LogFile(path)
    try:
        state = fold(log.records())
    except LogRefused as refused:
        say(printable(str(refused)))
        return False
    started = state.started.body if state.started else {}
    simulated = f"{SIMULATED}, " if started.get("simulated") else ""
    torn = f", {len(log.torn)} bytes of a torn last line left out" if log.torn else ""
    torn += ", with CRLF ends of lines or a byte order mark of another program, which alter no record" * log.altered
    name = printable(str(path))
    print(
        f"{name}: sound, {simulated}{log.lines} records{torn}; {_where(state, started.get('steps', 0))}; "
        f"sha256 {log.sha256}"
    )
    if not state.ended and "imported" not in started:
        print(f"Go on with: benchd resume {printable(as_typed(path))}")
    return True


def _where(state: RunState, steps: int) -> str:
    readings = readings_words(state.readings_of_plan, state.readings_of_warm_up)
    done = f"{state.steps_done} of {steps} steps done, {readings}, faults {state.faults}"
    if state.ended:
        return f"complete, {done}"
    why = f"paused ({state.pause_reason})" if state.last_kind == "paused" else "interrupted"
    return f"{why}, {done}"
