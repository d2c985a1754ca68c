"""``benchd next``: the operator confirms the requested step."""

from __future__ import annotations

from argparse import Namespace

from benchd.command.messages import say
from benchd.command.service.talk import client
from benchd.daemon.job_control import NotPossible
from benchd.exits import Exit


def main(arguments: Namespace) -> Exit:
    """Confirm what the running job waits for; with --again it is done only now, and read again."""
    try:
        client(arguments).tell("again" if arguments.again else "next")
    except NotPossible as error:
        say(str(error))
        return Exit.NO
    say("Confirmed; the run goes on.")
    return Exit.COMPLETE
