"""``benchd serve``: be the service of a bench."""

from __future__ import annotations

import shlex
from argparse import Namespace

from benchd import interrupt
from benchd.errors import InputError
from benchd.exits import Exit


def main(arguments: Namespace) -> Exit:
    """Serve until SIGTERM, Ctrl-C or `benchd stop`; then exit code 0, with the queue on disk."""
    try:
        command = shlex.split(arguments.on_event)
    except ValueError as error:
        raise InputError(
            f"--on-event {arguments.on_event!r}: {str(error).lower()}; quote it as a shell would"
        ) from None
    interrupt.on_ctrl_c("Stopped by Ctrl-C before the service was ready; its queue is on disk.")
    from benchd.daemon.process import ServiceOptions, serve, set_up

    set_up(arguments.log_format, arguments.log_level)
    serve(
        ServiceOptions(
            bench=arguments.bench,
            folder=arguments.folder,
            library=arguments.library,
            socket=arguments.socket,
            http_port=arguments.http,
            on_event=command,
            webhook=arguments.webhook,
        )
    )
    return Exit.COMPLETE
