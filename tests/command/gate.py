"""A bench whose mover holds the run at its first move away from the centre, until the test lets it go on.

So a test can do something to a run that is certainly under way, however fast the run or slow the test is.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

from benchd.profile import profile_store as library

WITHIN_S = 60.0


class Gate:
    """Puts the bench ``sim-office`` with such a mover on the shelf of ``folder``."""

    def __init__(self, folder: Path) -> None:
        self._reached, self._opened = folder / "gate-reached", folder / "gate-opened"
        shelf = folder / "profiles" / "benches"
        shelf.mkdir(parents=True)
        text = library.read_text(library.profiles_folder() / "benches" / "sim-office.yaml")
        own = f'python, "{Path(__file__).resolve()}", "{folder}"'
        assert text.count("python, -m, sim.mover") == 1
        (shelf / "sim-office.yaml").write_text(text.replace("python, -m, sim.mover", own), encoding="utf-8")

    def wait(self) -> None:
        """Until the run stands before the gate."""
        limit = time.monotonic() + WITHIN_S
        while not self._reached.exists():
            assert time.monotonic() < limit, "the run does not move its meter"
            time.sleep(0.01)

    def open(self) -> None:
        """For this run and all that follow."""
        self._opened.touch()

    def close(self) -> None:
        """Again, for the next run."""
        self._opened.unlink()
        self._reached.unlink(missing_ok=True)


def main(folder: Path, words: list[str]) -> int:
    """The mover: what ``sim.mover`` does, and the gate before it."""
    command = [sys.executable, "-m", "sim.mover", *words]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as mover:
        assert mover.stdin is not None
        assert mover.stdout is not None
        for line in sys.stdin.buffer:
            if json.loads(line).get("place") != "centre":
                (folder / "gate-reached").touch()
                while not (folder / "gate-opened").exists():
                    time.sleep(0.01)
            mover.stdin.write(line)
            mover.stdin.flush()
            sys.stdout.buffer.write(mover.stdout.readline())
            sys.stdout.buffer.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), sys.argv[2:]))
