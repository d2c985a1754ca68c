"""``benchd submit``: send a plan to the service, with its files as text; the service checks them."""

from __future__ import annotations

import re
from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path

from benchd.clock import moment_from
from benchd.command.measure.new_log import one_line
from benchd.command.messages import say
from benchd.command.service.talk import client
from benchd.daemon.job_control import NotPossible, Submission
from benchd.errors import InputError, ProfileError
from benchd.exits import Exit
from benchd.profile import profile_store as library

_NAMED = re.compile(r"""(?:^|[\s{,])(file|target|space|chart):\s*(?:"([^"\n]*)"|'([^'\n]*)'|([^\s#,}\]][^#,}\]\n]*))""")


def main(arguments: Namespace) -> Exit:
    """Queue it; all errors in the plan are reported as by `benchd plan`."""
    path = library.find("plans", arguments.plan)
    text = library.read_text(path)
    submission = Submission(
        plan_name=path.name,
        plan_text=text,
        files=dict(named_files(text, path)),
        sample=one_line("--sample", arguments.sample),
        note=one_line("--note", arguments.note),
        not_before=_moment(arguments.not_before),
        priority=arguments.priority,
        attended=arguments.attended,
    )
    try:
        job = client(arguments).submit(submission)
    except NotPossible as error:
        say(str(error))
        return Exit.NO
    except ProfileError as error:
        count = len(error.faults)
        say(f"{error}\n{count} {'fault' if count == 1 else 'faults'}; nothing was queued.")
        return Exit.BAD_INPUT
    print(job.id)
    when = f", not before {submission.not_before}" if submission.not_before else ""
    say(f"Queued as job {job.id}: plan {path.name}, {job.steps} steps{when}. See: benchd jobs, benchd watch")
    if job.why:
        say(f"Note: {job.why}.")
    return Exit.COMPLETE


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
