"""``benchd next``: the meter stands where it was asked to be moved."""

from __future__ import annotations

from argparse import Namespace

from benchd.command.messages import say
from benchd.command.talk import client
from benchd.daemon.desk import NotPossible
from benchd.exits import Exit


def main(arguments: Namespace) -> Exit:
    """Confirm the move that the running job waits for."""
    try:
        client(arguments).tell("next")
    except NotPossible as error:
        say(str(error))
        return Exit.NO
    say("Confirmed; the run goes on.")
    return Exit.COMPLETE
