"""``benchd status``: what goes on, from the service, or from its queue and logs when none answers."""

from __future__ import annotations

import json
import sys
from argparse import Namespace
from pathlib import Path

from benchd.command.service.talk import client, table
from benchd.daemon.folders import bench_name, known_folders
from benchd.daemon.http.client import NoService
from benchd.daemon.job_control import Snapshot
from benchd.exits import Exit
from benchd.report.words import SIMULATED, duration
from benchd.user_folders import state_folder


def main(arguments: Namespace) -> Exit:
    """Print it; exit code 0 whether a service answers or not, 1 when there is nothing to read either."""
    try:
        snapshot = client(arguments).status()
    except NoService as error:
        return _from_disk(arguments, str(error))
    if arguments.format == "json":
        from benchd.daemon.http.wire_json import plain

        _print_json({"service": True, **plain(snapshot, brief=True)})
    else:
        sys.stdout.write(_page(snapshot))
    return Exit.COMPLETE


def _page(snapshot: Snapshot) -> str:
    first = f"{SIMULATED}  " if snapshot.simulated else ""
    lines = [f"{first}bench {snapshot.bench}: {snapshot.doing}{f' - {snapshot.why}' if snapshot.why else ''}"]
    if snapshot.job is not None:
        left = f", {duration(snapshot.left_s)} left" if snapshot.left_s is not None else ""
        lines.append(f"{snapshot.job.id} at {snapshot.step or 'its start'}: {100 * snapshot.share_done:.0f} %{left}")
    for fault in snapshot.faults[-3:]:
        lines.append(f"fault at {fault.step}: {fault.text} [{fault.then}]")
    jobs = (*((snapshot.job,) if snapshot.job else ()), *snapshot.queue)
    return "\n".join(lines) + "\n\n" + table(jobs)


def _from_disk(arguments: Namespace, why: str) -> Exit:
    from benchd.daemon.on_disk import StoredJobs, read_service

    wanted = Path(arguments.folder) if arguments.folder else None
    if wanted is None and arguments.bench:
        wanted = state_folder() / bench_name(arguments.bench)
    found: list[StoredJobs] = [read_service(folder) for folder in ((wanted,) if wanted else known_folders())]
    if arguments.format == "json":
        from benchd.daemon.http.wire_json import plain

        _print_json({"service": False, "why": why, "folders": [plain(one, brief=True) for one in found]})
        return Exit.COMPLETE
    sys.stdout.write(f"{why}\n")
    if not found:
        sys.stdout.write(f"No folder of a service is in {state_folder()}; name it with --folder\n")
        return Exit.NO
    for one in found:
        sys.stdout.write(f"\nFrom queue and logs in {one.folder}:\n{table(one.jobs)}")
        for fault in one.damaged:
            sys.stdout.write(f"{fault}\n")
    return Exit.COMPLETE


def _print_json(value: object) -> None:
    sys.stdout.write(json.dumps(value, ensure_ascii=False, indent=1) + "\n")
