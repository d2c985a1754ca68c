"""``benchd jobs``: what runs, what waits, what is done."""

from __future__ import annotations

import sys
from argparse import Namespace

from benchd.command.service.talk import client, table
from benchd.exits import Exit


def main(arguments: Namespace) -> Exit:
    """List them, in the order in which they will run."""
    jobs = client(arguments).jobs()
    if arguments.format == "json":
        from benchd.daemon.http.wire_json import encode

        sys.stdout.write(encode(jobs, brief=True).decode() + "\n")
    else:
        sys.stdout.write(table(jobs))
    return Exit.COMPLETE
