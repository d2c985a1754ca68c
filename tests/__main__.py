"""The one gate, for hands and for CI: lint, format, strict types, then every test.

``python -m tests`` runs all of it; further arguments go to pytest (``python -m tests -k journal``). The types are
checked beside the tests, since most tests wait for something.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HERE = [sys.executable, "-m"]

QUICK = (
    ("lint", [*HERE, "ruff", "check", "."]),
    ("format", [*HERE, "ruff", "format", "--check", "--quiet", "."]),
)
TYPES = [*HERE, "mypy"]
# More workers than cores: the tests of windows, ports and real time mostly wait. Whoever is done takes from others.
TESTS = [*HERE, "pytest", "-n", "4", "--dist", "worksteal"]

MAX_CPU_S = 480
"""What may be spent in all, so that the tests stay something that is run often."""

MEMORY = Path("/dev/shm")
ENOUGH_BYTES = 1 << 30
"""The tests leave about 30 MB of files; pytest keeps those of three runs."""


def environment() -> dict[str, str]:
    """That of the tests: byte code is kept, and temporary files are in memory unless TMPDIR names a place.

    The tests start some hundreds of processes, which would compile the same modules anew each time, and sync some ten
    thousand records, which takes longer than all else on a busy disk and says nothing of the program.
    """
    found = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    if "TMPDIR" not in found and os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free >= ENOUGH_BYTES:
        found["TMPDIR"] = str(MEMORY)
    return found


def told(name: str, code: int, started: float) -> int:
    """Say how a step ended and what it took; its exit status."""
    print(f"{name}: {'passed' if code == 0 else 'FAILED'} in {time.monotonic() - started:.0f} s", flush=True)
    return code


def cpu_s() -> float:
    """Of all processes that have ended, those that they started included."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main(arguments: list[str]) -> int:
    """Run the steps; stop at once where lint or format fails. The exit status of the first that failed, or 0."""
    for name, command in QUICK:
        started = time.monotonic()
        if code := told(name, subprocess.run(command, cwd=ROOT, check=False).returncode, started):
            return code
    started = time.monotonic()
    with (
        tempfile.TemporaryFile() as said,
        subprocess.Popen(TYPES, cwd=ROOT, stdout=said, stderr=subprocess.STDOUT) as types,
    ):
        tests = subprocess.run([*TESTS, *arguments], cwd=ROOT, env=environment(), check=False).returncode
        code = types.wait()
        said.seek(0)
        sys.stdout.write(said.read().decode())
    print(f"types (beside the tests): {'passed' if code == 0 else 'FAILED'}")
    print(f"CPU of all steps together: {cpu_s():.0f} s; on an otherwise idle machine at most {MAX_CPU_S}")
    return told("tests", tests, started) or code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
