"""What the commands share that talk to a service: which one, and how a job is printed. Light imports only."""

from __future__ import annotations

import re
from argparse import Namespace
from collections.abc import Iterable
from dataclasses import replace

from benchd.command.messages import say
from benchd.daemon.folders import find_socket
from benchd.daemon.http.client import Client
from benchd.daemon.job_control import Job, JobState, NotPossible
from benchd.errors import InputError
from benchd.exits import Exit
from benchd.report.words import columns

JOB_ID = re.compile(r"j[1-9][0-9]{0,8}\Z")


def client(arguments: Namespace) -> Client:
    """The service that is meant: ``--socket``, BENCHD_SOCKET, ``--bench``, or the only one there."""
    return Client(find_socket(arguments.socket, arguments.bench))


def job_id(text: str) -> str:
    """``text``, which must be a job's id. Raises `InputError`."""
    if not JOB_ID.match(text):
        raise InputError(f"{text!r} is no job; a job is named like j3, and `benchd jobs` lists them")
    return text


def act(arguments: Namespace, action: str, done: str) -> Exit:
    """Request ``action`` of a job and report what follows; a refusal is the answer no."""
    name = job_id(arguments.job)
    try:
        job = client(arguments).act(name, action)
    except NotPossible as error:
        say(str(error))
        return Exit.NO
    say(done.format(id=job.id, log=job.log))
    return Exit.COMPLETE


def table(jobs: Iterable[Job]) -> str:
    """Jobs as aligned lines, each with what hinders it below."""
    listed = list(jobs)
    if not listed:
        return "no jobs\n"
    rows = columns([_row(job) for job in listed], left=(0, 1, 2, 3, 5))
    lines: list[str] = []
    for job, row in zip(listed, rows, strict=True):
        lines.append(row)
        if job.why:
            lines.append(f"    {job.why}")
    return "\n".join(lines) + "\n"


def _row(job: Job) -> list[str]:
    told = job.submission
    waits = job.state is JobState.QUEUED
    facts = [
        f"not before {told.not_before}" if told.not_before and waits else "",
        f"priority {told.priority}" if told.priority and waits else "",
        "attended" if told.attended else "",
        job.log,
    ]
    done = f"{job.steps_done}/{job.steps}" if job.steps else ""
    return [job.id, job.state.value, told.plan_name, told.sample, done, "  ".join(fact for fact in facts if fact)]


def brief(job: Job) -> Job:
    """``job`` without the texts of its plan, for a list."""
    return replace(job, submission=replace(job.submission, plan_text="", files={}))
