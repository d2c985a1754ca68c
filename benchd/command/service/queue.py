"""``benchd submit``, ``jobs``, ``pause``, ``cancel``, ``next``, ``stop``; and what all that talk to a service share.

Light imports only.
"""

from __future__ import annotations

import re
from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path

from benchd import interrupt
from benchd.clock import Deadline, StopRequest, moment_from
from benchd.command.messages import say
from benchd.command.output import one_line, print_as, refused, sample_name
from benchd.command.service.job_text import job_table, say_cautions
from benchd.daemon.folders import find_socket
from benchd.daemon.http.client import Client, NoService
from benchd.daemon.http.wire_json import plain
from benchd.daemon.job_control import NotPossible, Submission
from benchd.errors import InputError, ProfileError
from benchd.exits import Exit
from benchd.local_time import local_time
from benchd.profile import profile_store as library
from benchd.report.words import SIMULATED

_NAMED = re.compile(r"""(?:^|[\s{,])(file|target|space|chart):\s*(?:"([^"\n]*)"|'([^'\n]*)'|([^\s#,}\]][^#,}\]\n]*))""")


def main_submit(arguments: Namespace) -> Exit:
    """Queue it; all errors in the plan are reported as by `benchd plan`."""
    path = library.find("plans", arguments.plan)
    text = library.read_text(path)
    submission = Submission(
        plan_name=path.name,
        plan_text=text,
        files=dict(named_files(text, path)),
        sample=sample_name(arguments.sample),
        note=one_line("--note", arguments.note),
        not_before=_moment(arguments.not_before),
        priority=arguments.priority,
        attended=arguments.attended,
        conditions=_conditions(arguments.condition) if arguments.condition else {},
    )
    asks_service()
    try:
        job = client(arguments).submit(submission)
    except NotPossible as error:
        say(str(error))
        return Exit.NO
    except ProfileError as error:
        return refused(error, "nothing was queued")
    print(job.id)
    when = f", not before {local_time(submission.not_before)}" if submission.not_before else ""
    where = f" on a {SIMULATED} bench" if job.simulated else ""
    say(
        f"Queued as job {job.id}{where}: plan {job.plan_label}, {job.steps} steps{when}. See: benchd jobs, benchd watch"
    )
    say_cautions(job)
    if job.why:
        say(f"Note: {job.why}.")
    return Exit.COMPLETE


def _conditions(texts: list[str]) -> dict[str, str]:
    from benchd.profile.conditions_model import entered  # few submissions have any, and the others don't wait for it

    return {key: str(value) for key, value in entered(texts).items()}


def named_files(text: str, path: Path) -> Iterator[tuple[str, str]]:
    """The files that a plan seems to name, by the name it uses, with their texts.

    Found by their keys, without a YAML parser; what is missed or no file, the service reports.
    """
    for found in _NAMED.finditer(text):
        key, name = found[1], (found[2] or found[3] or found[4] or "").strip()
        if key == "file":
            candidates = [path.parent / name]
        elif key == "target":
            candidates = [Path(name), Path("profiles/targets", f"{name}.yaml")]
        else:  # a space or a chart of this folder's own, under the name that a plan's files have for it
            store = f"{key}s"
            candidates = [Path("profiles", store, name + (".csv" if key == "chart" else ".yaml"))]
        for candidate in candidates:
            if name and candidate.is_file():
                yield name if key in ("file", "target") else f"{store}/{name}", library.read_text(candidate)
                break


def _moment(text: str) -> str:
    try:
        return moment_from(text) if text else ""
    except ValueError:
        raise InputError(
            f"--not-before {text!r} is not a moment; write 18:00 (the next one), 2026-03-02T18:00 (local time) or "
            "2026-03-02T18:00:00Z"
        ) from None


JOB_ID = re.compile(r"j[1-9][0-9]{0,8}\Z")
ENDS_WITHIN_S = 240.0  # one reading may take three minutes
LOOK_EVERY_S = 0.2


def main_jobs(arguments: Namespace) -> Exit:
    """List the jobs: running, queued in the order in which they will run, paused, finished with the newest first."""
    jobs = client(arguments).jobs()
    return print_as(arguments.format, lambda: plain(jobs, brief=True), lambda: job_table(jobs))


def main_pause(arguments: Namespace) -> Exit:
    """Pause a job; the service goes on, and starts no other job until this one is resumed or cancelled."""
    return act(arguments, "pause", "Job {id} pauses. Go on with: benchd resume {id}")


def main_cancel(arguments: Namespace) -> Exit:
    """Take a job out of the queue; what a running job has read stays in its log."""
    return act(arguments, "cancel", "Job {id} is cancelled. {kept}")


def main_next(arguments: Namespace) -> Exit:
    """Confirm what the running job waits for; with --again it is done only now, with --skip its point is left out."""
    asks_service()
    try:
        now = client(arguments).tell(arguments.answer)
    except NotPossible as error:
        say(str(error))
        return Exit.NO
    interrupt.on_ctrl_c("Stopped by Ctrl-C. The answer is taken; the run goes on.")
    job = now.job
    done = "This point is skipped" if arguments.answer == "skip" else "Confirmed"
    whose = f", {job.id}, sample {job.submission.sample or 'not named'}" if job is not None else ""
    run = f"{SIMULATED} run" if job is not None and job.simulated else "run"
    say(f"{done} on bench {now.bench}{whose}; the {run} goes on.")  # it may not be the bench that was thought of
    if job is not None:
        say_cautions(job)
    return Exit.COMPLETE


def main_stop(arguments: Namespace) -> Exit:
    """Pause the running job and wait until the service has ended; its next start goes on with the job."""
    service = client(arguments)
    asks_service()
    service.tell("stop")
    deadline, pause = Deadline.after(ENDS_WITHIN_S), StopRequest()
    try:
        while not deadline.passed:
            service.status()
            pause.wait(LOOK_EVERY_S)
    except NoService:
        say("The service has ended; its queue is kept, and its next start goes on with it.")
        return Exit.COMPLETE
    say(f"The service has not ended within {ENDS_WITHIN_S:.0f} s; it waits for a reading. See: benchd status")
    return Exit.NO


def client(arguments: Namespace) -> Client:
    """The service that is meant: ``--socket``, BENCHD_SOCKET, ``--bench``, or the only one there."""
    return Client(find_socket(arguments.socket, arguments.bench))


def asks_service() -> None:
    """A request that Ctrl-C cuts short may have reached the service."""
    interrupt.on_ctrl_c("Stopped by Ctrl-C. Whether the service took the request, `benchd jobs` shows.")


def act(arguments: Namespace, action: str, done: str) -> Exit:
    """Request ``action`` of a job and report what follows; a refusal is the answer no. Raises `InputError`."""
    if not JOB_ID.match(arguments.job):
        raise InputError(f"{arguments.job!r} is no job; a job is named like j3, and `benchd jobs` lists them")
    asks_service()
    try:
        job = client(arguments).act(arguments.job, action)
    except NotPossible as error:
        say(str(error))
        return Exit.NO
    kept = f"What it has read stays in its log: {job.log}" if job.log else "It had not begun, so it has no log."
    say(done.format(id=job.id, kept=kept))
    if action == "resume":
        say_cautions(job)
    return Exit.COMPLETE
