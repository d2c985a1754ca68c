"""``benchd pause``: a job finishes its reading and pauses; a queued one is held."""

from __future__ import annotations

from argparse import Namespace

from benchd.command.service.talk import act
from benchd.exits import Exit


def main(arguments: Namespace) -> Exit:
    """Request it; the service goes on, and starts no other job until this one is resumed or cancelled."""
    return act(arguments, "pause", "Job {id} pauses. Go on with: benchd resume {id}")
