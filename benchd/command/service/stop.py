"""``benchd stop``: pause the running job and end the service."""

from __future__ import annotations

from argparse import Namespace

from benchd.clock import Deadline, StopRequest
from benchd.command.messages import say
from benchd.command.service.talk import client
from benchd.daemon.http.client import NoService
from benchd.exits import Exit

WITHIN_S = 240.0  # one reading may take three minutes
LOOK_EVERY_S = 0.2


def main(arguments: Namespace) -> Exit:
    """Request it and wait until the service has ended; its next start goes on with the job."""
    service = client(arguments)
    service.tell("stop")
    deadline = Deadline.after(WITHIN_S)
    pause = StopRequest()
    try:
        while not deadline.passed:
            service.status()
            pause.wait(LOOK_EVERY_S)
    except NoService:
        say("The service has ended; its queue is kept, and its next start goes on with it.")
        return Exit.COMPLETE
    say(f"The service has not ended within {WITHIN_S:.0f} s; it waits for a reading. See: benchd status")
    return Exit.NO
