"""The command line as its user starts it, a process for each command, forked from one that has its modules loaded.

To load them takes most of the time of a short command. All else is as in a process begun anew: arguments, working
folder, environment, streams, exit code. What depends on how the interpreter begins is to be tested without this.
"""

from __future__ import annotations

import gc
import importlib
import json
import os
import pkgutil
import runpy
import socket
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from tempfile import TemporaryFile

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ("benchd.command", "benchd.analysis", "benchd.measurements", "benchd.report.data", "benchd.report.terminal")
MAX_BYTES = 1 << 17
"""Of one question: the words, the folder and the environment."""


class Ready:
    """The process to fork from; one command at a time. A context manager."""

    def __init__(self) -> None:
        self._line, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        with theirs:
            command = [sys.executable, "-m", "tests.ready", str(theirs.fileno())]
            self._process = subprocess.Popen(command, cwd=ROOT, pass_fds=[theirs.fileno()])

    def __enter__(self) -> Ready:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self._line.close()
        self._process.wait()

    def run(
        self, words: Sequence[str], folder: Path, environment: Mapping[str, str], timeout_s: float = 600.0
    ) -> subprocess.CompletedProcess[str]:
        """As `subprocess.run` of ``python -m benchd`` does it, with nothing on stdin and both outputs taken."""
        asked = json.dumps([list(words), str(folder), dict(environment)]).encode()
        with open(os.devnull) as nothing, TemporaryFile("w+") as out, TemporaryFile("w+") as errors:
            socket.send_fds(self._line, [asked], [one.fileno() for one in (nothing, out, errors)])
            self._line.settimeout(timeout_s)
            try:
                code = int(self._line.recv(MAX_BYTES))
            except TimeoutError:
                self._process.kill()
                raise
            said = []
            for stream in (out, errors):
                stream.seek(0)
                said.append(stream.read())
        return subprocess.CompletedProcess(["benchd", *words], code, *said)


def _load() -> None:
    for room in map(importlib.import_module, ROOMS):
        for found in pkgutil.walk_packages(room.__path__, f"{room.__name__}."):
            importlib.import_module(found.name)
    from benchd.run.job import bench_job, plan_job  # the models of profiles are built when they are first used

    plan_job("quick")
    bench_job("sim-office")
    gc.freeze()


def _become(asked: bytes, streams: Sequence[int]) -> None:
    """What a process is given at its start."""
    words, folder, environment = json.loads(asked)
    for number, stream in enumerate(streams):
        os.dup2(stream, number)
        os.close(stream)
    os.chdir(folder)
    os.environ.clear()
    os.environ.update(environment)
    time.tzset()
    sys.path[0], sys.argv[1:] = folder, words
    sys.stdin = open(0, closefd=False)  # noqa: SIM115 - as long as the process
    sys.stdout = open(1, "w", closefd=False)  # noqa: SIM115
    sys.stderr = open(2, "w", buffering=1, errors="backslashreplace", closefd=False)  # noqa: SIM115


def _serve(line: socket.socket) -> bool:
    """Fork for each question; False once nobody is there to ask, True in a process that has a command to run."""
    while True:
        asked, streams, _, _ = socket.recv_fds(line, MAX_BYTES, 3)
        if not asked:
            return False
        child = os.fork()
        if child == 0:
            line.close()
            _become(asked, streams)
            return True
        for stream in streams:
            os.close(stream)
        line.send(b"%d" % os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))


if __name__ == "__main__":
    _load()
    if _serve(socket.socket(fileno=int(sys.argv[1]))):
        runpy.run_module("benchd", run_name="__main__", alter_sys=True)
