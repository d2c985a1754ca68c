"""``benchd window``: what this computer's window can emit, or the window for a run on another machine."""

from __future__ import annotations

import signal
from argparse import Namespace
from pathlib import Path

from benchd import interrupt
from benchd.clock import Deadline
from benchd.command.messages import say
from benchd.command.output import print_as
from benchd.errors import InputError, ScreenError
from benchd.exits import Exit
from benchd.patch.far import split_address
from benchd.patch.link import make_secret, read_secret
from benchd.patch.listen import Listener
from benchd.patch.model import BLACK, field
from benchd.patch.screen import ScreenIdentity
from benchd.patch.window_screen import WindowScreen, window_command

DEFAULT_TOKEN = Path("window.token")
SHOWS_WITHIN_S = 5.0
SIGNAL = """\
signal   SDR: a window can request no HDR signal here. If you have set the display to read its codes
         as PQ or HLG, state it in the bench: screen: {signal: pq}. The depth of the cable's own format
         is not known to a window."""


def main(arguments: Namespace) -> Exit:
    """Listen until it is interrupted, or report what the window can emit."""
    if arguments.listen is None:
        return _report_light(arguments)
    split_address(arguments.listen)  # before the token file is made
    token = Path(arguments.token_file) if arguments.token_file else DEFAULT_TOKEN
    if not token.exists():
        make_secret(token)
        say(f"Made the token file {token}. Copy it to the machine that runs the plan; who has it can use the window.")
    command = window_command(arguments.monitor, arguments.bits)
    listener = Listener(arguments.listen, read_secret(token), command, arguments.signal, say)
    interrupt.on_ctrl_c("Stopped; the window is closed.", Exit.COMPLETE)
    signal.signal(signal.SIGTERM, interrupt.end)
    host = arguments.listen.rpartition(":")[0]
    emits = f", declared to carry {arguments.signal.upper()}" if arguments.signal else ""
    say(
        f"Waiting at {host}:{listener.port} for a run ({arguments.bits} bits on {arguments.monitor}{emits}). "
        f"On the other machine, in the bench: screen: {{connect: {host}:{listener.port}, token_file: {token.name}}}"
    )
    try:
        listener.run()
    finally:
        listener.close()
    return Exit.COMPLETE


def _report_light(arguments: Namespace) -> Exit:
    """Open the window at each depth, read back what came, and close it again."""
    if arguments.token_file or arguments.signal:
        raise InputError("--token-file and --signal go with --listen ADDRESS:PORT")
    found: dict[int, ScreenIdentity] = {}
    reasons: dict[int, str] = {}
    for bits in (8, 10):
        screen = WindowScreen(window_command(arguments.monitor, bits))
        try:
            found[bits] = screen.identify()
            screen.show(field(BLACK, bits), Deadline.after(SHOWS_WITHIN_S))
        except ScreenError as error:
            found.pop(bits, None)
            reasons[bits] = str(error)
        finally:
            screen.close()
    facts = ("name", "width", "height", "bits", "readback", "renderer", "gamma_ramp", "signal", "signal_by")
    screens = {str(bits): {key: getattr(screen, key) for key in facts} for bits, screen in found.items()}
    lines = [f"{bits:>2} bits  {_emits(identity)}" for bits, identity in found.items()]
    lines += [f"{bits:>2} bits  no: {reason}" for bits, reason in reasons.items()]
    print_as(
        arguments.format,
        lambda: {"depths": sorted(found), "signal": "sdr", "screens": screens, "not": reasons},
        lambda: "\n".join([*lines, *([SIGNAL] if found else [])]) + "\n",
    )
    return Exit.COMPLETE if found else Exit.NO


def _emits(identity: ScreenIdentity) -> str:
    size = f"{identity.name}: {identity.width} x {identity.height}"
    where = {"screen": "pixels read back from the display server", "buffer": "pixels read back from the draw buffer"}
    back = where.get(identity.readback, "pixels not read back")
    return f"{size}, the frame buffer has {identity.bits} bits a channel, {back}"
