"""``benchd cancel``: take a job out of the queue."""

from __future__ import annotations

from argparse import Namespace

from benchd.command.service.talk import act
from benchd.exits import Exit


def main(arguments: Namespace) -> Exit:
    """Request it; what a running job has read stays in its log."""
    return act(arguments, "cancel", "Job {id} is cancelled. What it has read stays in its log.")
