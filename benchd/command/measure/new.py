"""``benchd new measurement NAME``: a package with a measurement of one's own, and its test."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from benchd.exits import Exit
from benchd.testing.new_measurement import write


def main(arguments: Namespace) -> Exit:
    """Write the package."""
    folder = Path(arguments.output or "-".join(arguments.name.replace("_", " ").split()))
    for path in write(arguments.name, folder):
        print(path)
    print(f"\nInstall it beside benchd (pip install -e {folder}) and run its test; `benchd doctor` lists it.")
    return Exit.COMPLETE
