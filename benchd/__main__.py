"""The entry point: ``benchd``, and ``python -m benchd``. Before all else Ctrl-C is answered: imports take a while."""

import atexit
import os
import sys

from benchd import interrupt

interrupt.install()


def main() -> int:
    """Run the command that the command line names; its exit status, which is that of the process."""
    status: list[int] = []
    atexit.register(_leave, status)  # before any other, so that it is the last one that is called
    try:
        from benchd.cli import main as run

        status.append(run())
        return status[0]
    finally:
        interrupt.is_over()


def _leave(status: list[int]) -> None:
    """End at once: the interpreter would take apart all that was imported, for as long as a sixth of numpy's import."""
    sys.stdout.flush()
    sys.stderr.flush()
    if status:
        os._exit(status[0])


if __name__ == "__main__":
    raise SystemExit(main())
