"""``benchd status`` and ``watch``: what goes on, from the service, or from its queue and logs when none answers."""

from __future__ import annotations

import shutil
import sys
from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path

from benchd import interrupt
from benchd.clock import StopRequest
from benchd.command.messages import coloured, draw, rewrites, say
from benchd.command.output import print_as
from benchd.command.service.job_text import ends, how_far_line, job_head, job_table, progress_of, say_cautions
from benchd.command.service.queue import client
from benchd.daemon.folders import bench_name, known_folders
from benchd.daemon.http.client import Client, NoService
from benchd.daemon.http.wire_json import encode, plain
from benchd.daemon.job_control import Job, JobState, Snapshot
from benchd.daemon.queue import StoredJobs, read_service
from benchd.exits import Exit
from benchd.local_time import local_time
from benchd.report.terminal.progress import progress_line
from benchd.report.words import SIMULATED, span
from benchd.user_folders import state_folder


def main_status(arguments: Namespace) -> Exit:
    """Print it; exit code 0 whether a service answers or not, 1 when there is nothing to read either."""
    try:
        snapshot = client(arguments).status()
    except NoService as error:
        return _from_disk(arguments, str(error))
    return print_as(arguments.format, lambda: {"service": True, **plain(snapshot, brief=True)}, lambda: _page(snapshot))


def _page(snapshot: Snapshot) -> str:
    first = f"{SIMULATED}  " if snapshot.simulated else ""
    lines = [f"{first}bench {snapshot.bench}: {snapshot.doing}{f' - {snapshot.why}' if snapshot.why else ''}"]
    if snapshot.job is not None:
        left = ""
        if snapshot.left_s is not None:
            left = f", {span(snapshot.left_s, snapshot.left_maximum_s or snapshot.left_s)} left"
        left += f", ends {end}" if (end := ends(snapshot)) else ""
        lines.append(f"{snapshot.job.id} at {snapshot.step or 'its start'}: {100 * snapshot.share_done:.0f} %{left}")
    for fault in snapshot.faults[-3:]:
        lines.append(f"fault at {fault.step}, {local_time(fault.wall)}: {fault.text} [{fault.then}]")
    jobs = (*((snapshot.job,) if snapshot.job else ()), *snapshot.queue)
    return "\n".join(lines) + "\n\n" + job_table(jobs)


_NAME_IT = "if it had one of its own (benchd serve --folder DIR), name that: benchd status --folder DIR"


def _from_disk(arguments: Namespace, why: str) -> Exit:
    bench = "" if arguments.folder or not arguments.bench else bench_name(arguments.bench)
    wanted = (Path(arguments.folder),) if arguments.folder else known_folders()
    found: list[StoredJobs] = [read_service(folder) for folder in wanted if bench in ("", folder.name)]
    folders = [plain(one, brief=True) for one in found]
    of = f" of bench {bench}" if bench else ""
    none = "" if found else f"No folder of a service{of} is in {state_folder()}; {_NAME_IT}\n"
    code = print_as(
        arguments.format,
        lambda: {"service": False, "why": why, "folders": folders},
        lambda: f"{why}\n{none}" + "".join(map(_of_folder, found)),
    )
    return Exit.NO if none and arguments.format != "json" else code


def _of_folder(one: StoredJobs) -> str:
    damaged = "".join(f"{fault}\n" for fault in one.damaged)
    return f"\nFrom queue and logs in {one.folder}:\n{job_table(one.jobs)}{damaged}"


TRIES = 20  # to find a service again that is being started anew
LOOK_EVERY_S = 0.5

_CODES = {JobState.COMPLETE: Exit.COMPLETE, JobState.PAUSED: Exit.PAUSED, JobState.QUEUED: Exit.PAUSED}


def main_watch(arguments: Namespace) -> Exit:
    """Follow it; Ctrl-C ends the watching, not the job."""
    interrupt.on_ctrl_c("The service goes on; only the watching has ended.", Exit.COMPLETE)
    return _follow(client(arguments), as_json=arguments.format == "json")


def _follow(service: Client, as_json: bool) -> Exit:
    watched, shown = "", ""
    ended: set[str] | None = None  # what had ended when the watching began
    for snapshot in _snapshots(service):
        over = {job.id for job in snapshot.queue if job.state is not JobState.QUEUED and job != snapshot.job}
        ended = over if ended is None else ended
        if as_json:
            print(encode(snapshot, brief=True).decode(), flush=True)
        if snapshot.job is not None:
            if snapshot.job.id != watched and not as_json:
                say(job_head(snapshot.job))
                say_cautions(snapshot.job)
            watched = snapshot.job.id
            shown = shown if as_json else _show(snapshot, shown)
            continue
        # A short job may run and end between two looks.
        watched = watched or next(iter(sorted(over - ended)), "")
        if watched:
            return _ended(next((job for job in snapshot.queue if job.id == watched), None))
        if not any(job.state is JobState.QUEUED for job in snapshot.queue) and snapshot.doing != "opening the bench":
            say("Nothing runs, and nothing is queued. See: benchd jobs")
            return Exit.COMPLETE
        waits = f"No job runs: {snapshot.why or 'none is due yet'}. This waits for the next; Ctrl-C ends the watching"
        shown = shown if as_json else _say_once(waits, shown)
    return Exit.COMPLETE


def _snapshots(service: Client) -> Iterator[Snapshot]:
    """Snapshots of a service, and of the one that is started after it. Raises `NoService`."""
    first = service.status()  # no service at all is reported at once
    yield first
    after, tries, pause = first.number, TRIES, StopRequest()
    while True:
        try:
            for snapshot in service.events(after):
                after, tries = snapshot.number, TRIES
                yield snapshot
        except NoService:
            if tries <= 0:
                raise
        tries -= 1
        pause.wait(LOOK_EVERY_S)


def _show(snapshot: Snapshot, shown: str) -> str:
    if snapshot.doing in ("waiting for the operator", "opening the bench", "pausing", "stopping"):
        assert snapshot.job is not None
        return _say_once(f"Job {snapshot.job.id}, {snapshot.doing}{f': {snapshot.why}' if snapshot.why else ''}", shown)
    if rewrites():
        draw(
            progress_line(
                progress_of(snapshot), width=shutil.get_terminal_size().columns - 1, colour=coloured(sys.stderr)
            )
        )
        return shown
    block = snapshot.step.partition("/")[0]
    if block != shown:
        say(progress_line(progress_of(snapshot)))
    return block


def _say_once(text: str, shown: str) -> str:
    if text != shown:
        say(text)
    return text


def _ended(job: Job | None) -> Exit:
    if job is None:
        say("The job is no longer known to the service.")
        return Exit.NO
    simulated = f"{SIMULATED}  " if job.simulated else ""
    why = f" ({job.why})" if job.why else ""
    say(f"{simulated}Job {job.id}: {job.state.value}{why}. Log: {job.log or 'none'}")
    if job.state is JobState.COMPLETE:
        say(f"Results: benchd results {job.log}")
    elif job.state is JobState.PAUSED:
        say(f"{how_far_line(job)}  Go on with: benchd resume {job.id}")
    return _CODES.get(job.state, Exit.NO)
