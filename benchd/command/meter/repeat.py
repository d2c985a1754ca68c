"""``benchd repeat``: a plan again and again on one bench, and how well the bench repeats itself."""

from __future__ import annotations

import math
import os
import shlex
from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path

from benchd.analysis.analyse import analyse
from benchd.analysis.catalogue import headlines
from benchd.analysis.log.log_data import collect
from benchd.analysis.log.step_data import StepData
from benchd.analysis.meter_model.bench_repeatability import precision, repeatability_of
from benchd.analysis.meter_model.correction import Matrix
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.clock import file_stamp
from benchd.command.measure.live import no_operator, wait_for_operator
from benchd.command.measure.run import resume_log, run_job
from benchd.command.messages import say
from benchd.command.output import print_as, sample_name
from benchd.errors import InputError
from benchd.exits import Exit
from benchd.profile.made_files import MeterName, RepeatabilityFile, RepeatedFigure, repeatability_path
from benchd.report.terminal.meter_text import repeatability_text
from benchd.report.whole_file import whole_file
from benchd.run.job import BenchJob, bench_job, plan_job
from benchd.run.log.journal import LogFile
from benchd.run.log.log_ends import has_begun
from benchd.run.log.records import Body, fold
from benchd.user_folders import library_folder

RUN, PLACEMENT = "BENCHD_RUN", "BENCHD_PLACEMENT"
"""Variables for a companion or a mover of the bench: which run begins, after which placement of the meter."""
MAX_RUNS = 1000


def main(arguments: Namespace) -> Exit:
    """All runs that are not done, then their results; exit code 3 when one paused or waits for the operator."""
    runs, placements = arguments.runs, arguments.placements
    if not 2 <= runs <= MAX_RUNS or not 1 <= placements <= runs or runs % placements:
        raise InputError(
            f"{runs} runs in {placements} placements: give 2 to {MAX_RUNS} runs, and placements that divide them evenly"
        )
    sample_name(arguments.sample)
    job, bench = plan_job(arguments.plan), bench_job(arguments.bench)
    folder = Path(arguments.logs or library_folder() / "repeat" / f"{bench.bench.bench}-{file_stamp()}")
    sample = arguments.sample or f"repeat-{folder.name}"  # the runs are of one display, whichever it is
    again = _again(arguments, folder)
    if not bench.bench.manual_moves and placements > 1:
        say("Note: the bench's mover puts the meter at its place anew for every run.")
    just_placed = True  # the operator has put the meter on before this command, as the pause requested
    for number in range(1, runs + 1):
        placement = _placement(number, runs, placements)
        repeat = {"run": number, "runs": runs, "placement": placement, "placements": placements}
        log = folder / f"run-{number:0{len(str(runs))}}.log"
        if _is_done(log, repeat, sample):
            continue
        begun = log.exists()
        anew = number > 1 and placement != _placement(number - 1, runs, placements)
        if anew and not begun and bench.bench.manual_moves and not (just_placed and no_operator()):
            question = f"Placement {placement} of {placements}: take the meter off the screen and put it on again"
            if no_operator() or not wait_for_operator(question):
                say(f"{question}; then go on with: {again}")
                return Exit.PAUSED
        os.environ[RUN], os.environ[PLACEMENT] = str(number), str(placement)
        say(f"Run {number} of {runs}, placement {placement} of {placements}")
        code = resume_log(log) if begun else run_job(job, bench, log, sample, arguments.note, repeat=repeat)
        if code is not Exit.COMPLETE:
            say(f"Then go on with: {again}")
            return code
        just_placed = False
    return _tell(arguments, folder, bench, runs)


def _again(arguments: Namespace, folder: Path) -> str:
    """The command that goes on with it, as a shell takes it."""
    words = ["benchd", "repeat", arguments.plan, str(arguments.runs), "--placements", str(arguments.placements)]
    words += ["--bench", arguments.bench, "--logs", str(folder)]
    words += ["--sample", arguments.sample] if arguments.sample else []
    words += ["--note", arguments.note] if arguments.note else []
    words += ["--no-keep"] if arguments.no_keep else []
    words += ["--format", arguments.format] if arguments.format != "text" else []
    return shlex.join(words)


def _placement(number: int, runs: int, placements: int) -> int:
    return (number - 1) * placements // runs + 1


def _is_done(log: Path, repeat: dict[str, int], sample: str) -> bool:
    """True when this run is complete in ``log``; a log that was never begun is taken away.

    Raises `InputError` when another run stands there.
    """
    if not log.exists():
        return False
    if not has_begun(log):
        log.unlink()
        return False
    state = fold(LogFile(log).records())
    body = state.started.body if state.started else {}
    if body.get("repeat") != repeat or body.get("sample") not in (sample, ""):
        raise InputError(f"{log} is of another repetition, or of another sample; name another folder: --logs DIR")
    return state.ended


def _tell(arguments: Namespace, folder: Path, bench: BenchJob, runs: int) -> Exit:
    logs = [folder / f"run-{number:0{len(str(runs))}}.log" for number in range(1, runs + 1)]
    file = repeated(logs, bench.bench.bench)
    path = repeatability_path(bench.bench.bench)
    if not arguments.no_keep:
        _keep(path, file.as_yaml())
    kept = {"file": None if arguments.no_keep else str(path), "logs": list(map(str, logs))}
    print_as(arguments.format, lambda: {**kept, **file.model_dump(mode="json")}, lambda: repeatability_text(file))
    who = f"bench {file.bench} with meter {file.meter.model} {file.meter.serial_number}"
    use = f"Kept in {path}: later runs of {who} count it in their uncertainty."
    say("Nothing is kept." if arguments.no_keep else use)
    return Exit.COMPLETE


def _keep(path: Path, text: str) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with whole_file(path) as aside:
            aside.write_text(text, encoding="utf-8")
    except OSError as error:
        raise InputError(f"{path} can't be written ({error.strerror}); set XDG_DATA_HOME, or use --no-keep") from None


def repeated(logs: Sequence[Path], bench: str) -> RepeatabilityFile:
    """Repeatability and reproducibility from the logs of all runs, in their order. Raises `InputError`."""
    values: dict[int, list[dict[str, Quantity]]] = {}  # placement -> runs
    lights: dict[int, list[list[StepData]]] = {}
    head: Body = {}
    made, simulated = "", False
    for log in logs:
        log_data = collect(LogFile(log).records())
        assert log_data.started is not None  # the run is complete
        if head and log_data.started.body["meter"]["serial_number"] != head["meter"]["serial_number"]:
            raise InputError(
                f"{log} was read with another meter than {logs[0]}; repeat with one meter in another folder"
            )
        head = log_data.started.body
        made, simulated = log_data.started.wall[:10], simulated or log_data.simulated
        placement = head["repeat"]["placement"]
        found = headlines(analyse(LogFile(log).records()))
        values.setdefault(placement, []).append({one.name: one.quantity for one in found})
        lights.setdefault(placement, []).append([one for one in log_data.measured.values() if one.block])
    try:
        repeatability = repeatability_of(list(lights.values()))
    except ValueError as error:
        raise InputError(f"the plan gives no repeatability of the bench: {error}") from None
    return RepeatabilityFile(
        bench=bench,
        version=1,
        made=made,
        meter=MeterName(model=head["meter"]["model"], serial_number=head["meter"]["serial_number"]),
        simulated=simulated,
        plan=head["plan"]["name"],
        runs=len(logs),
        placements=len(values),
        between_runs_percent=_percent(repeatability.between_runs),
        placement_percent=_percent(repeatability.placement),
        between_runs=repeatability.between_runs,
        between_runs_dof=repeatability.between_runs_dof,
        placement=repeatability.placement,
        placement_dof=repeatability.placement_dof,
        figures=tuple(_figures(list(values.values()))),
    )


def _percent(matrix: Matrix | None) -> float | None:
    return None if matrix is None else 100.0 * math.sqrt(matrix[1][1])


def _figures(groups: Sequence[Sequence[dict[str, Quantity]]]) -> list[RepeatedFigure]:
    """Only figures that are a plain value in every run."""
    runs = [run for group in groups for run in group]
    found = []
    for name, first in runs[0].items():
        if not all(name in run and run[name].plain for run in runs):
            continue
        one = precision([[run[name].value or 0.0 for run in group] for group in groups])
        limits = {key: getattr(one, key) for key in ("mean", "s_r", "limit_r", "s_l", "s_R", "limit_R")}
        found.append(RepeatedFigure(name=name, unit=first.unit, **limits))
    return found
