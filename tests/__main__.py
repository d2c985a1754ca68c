"""The one gate, for hands and for CI: lint, format, strict types, then every test.

``python -m tests`` runs all of it; further arguments go to pytest (``python -m tests -k journal``).
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HERE = [sys.executable, "-m"]

STEPS = (
    ("lint", [*HERE, "ruff", "check", "."]),
    ("format", [*HERE, "ruff", "format", "--check", "--quiet", "."]),
    ("types", [*HERE, "mypy"]),
)


def main(arguments: list[str]) -> int:
    """Run the steps in order; stop at the first that fails."""
    # More workers than cores: the tests of windows, ports and real time mostly wait. Whoever is done takes from others.
    for name, command in (*STEPS, ("tests", [*HERE, "pytest", "-n", "4", "--dist", "worksteal", *arguments])):
        started = time.monotonic()
        code = subprocess.run(command, cwd=ROOT, check=False).returncode
        print(f"{name}: {'passed' if code == 0 else 'FAILED'} in {time.monotonic() - started:.0f} s", flush=True)
        if code:
            return code
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
