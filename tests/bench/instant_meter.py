"""A serial meter that answers at once: a process on the other side of a pseudo-terminal.

    python -m tests.bench.instant_meter terse-line SERIAL-NUMBER

Prints the name of its port and answers until its standard input closes. A process of its own, so that it takes no
time from the one that is measured; what it answers to a question is made once and then only looked up.
"""

from __future__ import annotations

import os
import select
import sys
import tty

from tests.instruments.scripted import Instrument, load


def main(name: str, serial_number: str) -> int:
    """Serve."""
    dialect = load(name)
    instrument = Instrument(dialect, serial=serial_number)
    line_end = dialect.line.end_sent.encode()
    known: dict[bytes, bytes] = {}
    master, slave = os.openpty()
    tty.setraw(slave)
    print(os.ttyname(slave), flush=True)
    heard = b""
    while True:
        readable, _, _ = select.select([master, 0], [], [])
        if 0 in readable and not os.read(0, 4096):
            return 0
        if master in readable:
            heard += os.read(master, 4096)
            while line_end in heard:
                line, _, heard = heard.partition(line_end)
                if line not in known:
                    known[line] = b"".join(data for _, data in instrument(line))
                os.write(master, known[line])


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
