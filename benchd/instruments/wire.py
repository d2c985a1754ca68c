"""One serial port, and every way it can fail as one of our errors. The only importer of serial.

Reading has its own deadline loop: a device that trickles bytes can't stretch it (the time-out of the
library counts from byte to byte). The bytes of the present question are kept for the error's text.
POSIX only.
"""

from __future__ import annotations

import errno
import fcntl
import os
import select
import termios
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from glob import glob

import serial
from serial.tools import list_ports

from benchd.clock import Deadline
from benchd.errors import MeterBusy, MeterError, MeterGarbled, MeterLost, MeterSilent
from benchd.profile.dialect import PortSettings

_PARITY = {
    "none": serial.PARITY_NONE,
    "even": serial.PARITY_EVEN,
    "odd": serial.PARITY_ODD,
    "mark": serial.PARITY_MARK,
    "space": serial.PARITY_SPACE,
}
_WRITE_WITHIN_S = 2.0
_CHUNK = 4096
_PSEUDO_TERMINALS = "/dev/pts/"
# The library raises the first two; a vanished port also shows as the others: termios.error (which is no
# OSError) from flushing, TypeError from reading a port that is closed meanwhile.
_PORT_FAILURES = (serial.SerialException, OSError, termios.error, TypeError)


@dataclass(frozen=True, slots=True)
class PortInfo:
    """A serial port of this machine."""

    name: str  # such as "/dev/ttyUSB0"
    description: str
    usb: str | None  # "1234:abcd", vendor and product
    serial_number: str | None  # of the USB adapter, not of the meter
    stable_names: tuple[str, ...]  # links that keep their name when the adapter is put back


def ports() -> tuple[PortInfo, ...]:
    """The serial ports that the system lists, in the order of their names."""
    links: dict[str, list[str]] = {}
    for link in sorted(glob("/dev/serial/by-id/*")):
        links.setdefault(os.path.realpath(link), []).append(link)
    return tuple(
        PortInfo(
            name=port.device,
            description=port.description or "",
            usb=None if port.vid is None or port.pid is None else f"{port.vid:04x}:{port.pid:04x}",
            serial_number=port.serial_number,
            stable_names=tuple(links.get(os.path.realpath(port.device), ())),
        )
        for port in sorted(list_ports.comports(), key=lambda port: str(port.device))
    )


class Wire:
    """An open serial port that sends bytes and reads lines.

    Raises `MeterLost` when the port can't be opened or goes away, and `MeterBusy` when another process has it.
    """

    def __init__(
        self, port: str, settings: PortSettings, *, line_end: bytes, max_bytes: int, device: str = "meter"
    ) -> None:
        self.port, self._line_end, self._max_bytes = port, line_end, max_bytes
        self._device = f"the {device}"  # for sentences
        self.sent = self.received = b""  # since begin()
        self._buffer = b""
        # Twenty characters' time, and never less than an operating system's own delays.
        self.quiet_s = max(0.03, 20 * 11 / settings.baud)
        self._serial = _opened(port, settings, self._device)

    def begin(self) -> None:
        """A new question: forget the bytes of the one before."""
        self.sent = self.received = b""

    def send(self, data: bytes) -> None:
        """Send ``data``. Raises `MeterSilent` when the meter's flow control keeps it from being sent."""
        self.sent += data
        with self._guarded():
            try:
                self._serial.write(data)
            except serial.SerialTimeoutException:
                text = (
                    f"{self._device} at {self.port} does not take {shown(data)}: flow control held it back for "
                    f"{_WRITE_WITHIN_S:g} s; compare 'flow_control' of the dialect with its setting"
                )
                raise MeterSilent(text, sent=self.sent, received=self.received) from None

    def read_line(self, deadline: Deadline) -> bytes | None:
        """The next line without its end; None when it is not complete at ``deadline`` (see `partial`).

        Raises `MeterGarbled` when a line grows beyond the dialect's ``max_bytes``.
        """
        while True:
            line, end, rest = self._buffer.partition(self._line_end)
            if len(line) > self._max_bytes:
                self._buffer = b""
                raise MeterGarbled(
                    f"{self._device} at {self.port} sent {len(line)} bytes without a line end ({shown(line[:40])} …); "
                    "compare 'end_answered', 'max_bytes' and the port settings of the dialect with its manual",
                    sent=self.sent,
                    received=self.received,
                )
            if end:
                self._buffer = rest
                return line
            if not self._more(deadline):
                return None

    @property
    def partial(self) -> bytes:
        """What has come of a line that is not complete."""
        return self._buffer

    def unread(self) -> bytes:
        """Everything that has come and was not read; it is gone from the wire then."""
        now = Deadline.after(0.0)
        while self._more(now) and len(self._buffer) < 64 * _CHUNK:
            pass
        taken, self._buffer = self._buffer, b""
        return taken

    def drain(self, deadline: Deadline) -> tuple[bytes, bool]:
        """Throw away what comes until nothing came for ``quiet_s``: (what it was, whether it got quiet)."""
        thrown = self.unread()
        while not deadline.passed:
            if not self._more(Deadline.after(self.quiet_s)):
                return thrown, True
            thrown += self.unread()
        return thrown, False

    def rest(self, seconds: float) -> None:
        """Let ``seconds`` of real time pass; what comes meanwhile stays unread."""
        deadline = Deadline.after(seconds)
        while len(self._buffer) < 64 * _CHUNK and self._more(deadline):
            pass

    def close(self) -> None:
        """Let go of the port; never raises."""
        with suppress(*_PORT_FAILURES):
            if not _is_pseudo_terminal(self._serial.fileno()):
                fcntl.ioctl(self._serial.fileno(), termios.TIOCNXCL)
        with suppress(*_PORT_FAILURES):
            self._serial.close()

    def _more(self, deadline: Deadline) -> bool:
        """Read what is there, waiting for the first byte until ``deadline``; False when nothing came."""
        with self._guarded():
            readable, _, _ = select.select([self._serial.fileno()], [], [], deadline.left_s)
            if not readable:
                return False
            data = self._serial.read(min(_CHUNK, max(1, self._serial.in_waiting)))
        self._buffer += data
        # The record for the operator's eye need not hold all that a babbling device sends.
        self.received = (self.received + data)[: self._max_bytes + 256]
        return bool(data)

    @contextmanager
    def _guarded(self) -> Iterator[None]:
        try:
            yield
        except MeterError:
            raise
        except _PORT_FAILURES as error:
            asked = f" after {shown(self.sent)} was sent" if self.sent else ""
            got = f" and {shown(self.received)} had come" if self.received else ""
            raise MeterLost(
                f"the port {self.port} is gone{asked}{got} ({_reason(error)}); plug {self._device} in, "
                "look at its power and cable",
                sent=self.sent,
                received=self.received,
            ) from None


def shown(data: bytes) -> str:
    """Bytes as a person reads them: ``'M500\\r'``; a byte that is no ASCII sign as ``\\xb5``."""
    return "'" + repr(data)[2:-1].replace("\\'", "'") + "'"


def _opened(port: str, settings: PortSettings, device: str) -> serial.Serial:
    try:
        # A pseudo-terminal carries whole bytes without a frame, and refuses to be set to another one.
        framed = not os.path.realpath(port).startswith(_PSEUDO_TERMINALS)
        line = serial.Serial(
            baudrate=settings.baud,
            bytesize=settings.data_bits if framed else serial.EIGHTBITS,
            parity=_PARITY[settings.parity] if framed else serial.PARITY_NONE,
            stopbits=settings.stop_bits,
            xonxoff=settings.flow_control == "xon_xoff",
            rtscts=settings.flow_control == "rts_cts",
            dsrdtr=settings.flow_control == "dsr_dtr",
            timeout=0,
            write_timeout=_WRITE_WITHIN_S,
            exclusive=True,  # flock: keeps off processes that request the lock too
        )
        line.port, line.dtr, line.rts = port, settings.dtr, settings.rts
        line.open()
    except ValueError as error:
        raise MeterLost(f"the port {port} can't be set as in the dialect ({error}); check its 'port:'") from None
    except _PORT_FAILURES as error:
        raise _not_opened(port, device, error) from None
    # The terminal's own exclusive mode keeps off those that do not request the lock. Not on a pseudo-terminal:
    # there the mode outlives a killed holder for as long as the other side is open, and no resume would be possible.
    with suppress(*_PORT_FAILURES):
        if not _is_pseudo_terminal(line.fileno()):
            fcntl.ioctl(line.fileno(), termios.TIOCEXCL)
    return line


def _not_opened(port: str, device: str, error: BaseException) -> MeterError:
    number = _number_of(error)
    if number in (errno.EAGAIN, errno.EBUSY):
        return MeterBusy(f"another process holds the port {port}; let it finish, or end it, and try again")
    denied = (
        f"the port {port} may not be opened by this user; join the group that owns it (often 'dialout'), log in again "
        "and try again"
    )
    absent = f"there is no port {port}; plug {device} in, or correct 'port' of the bench"
    unfit = f"the port {port} can't be set as in the dialect's 'port:'; use an adapter that can"
    known = {
        **dict.fromkeys((errno.EACCES, errno.EPERM), denied),
        **dict.fromkeys((errno.ENOENT, errno.ENODEV, errno.ENXIO), absent),
        errno.EINVAL: unfit,
    }
    return MeterLost(known.get(number, f"the port {port} can't be opened ({_reason(error)}); is it a serial port?"))


def _is_pseudo_terminal(descriptor: int) -> bool:
    return os.ttyname(descriptor).startswith(_PSEUDO_TERMINALS)


def _number_of(error: BaseException) -> int:
    """The system's number of an error; 0 where it has none."""
    found = error.args[0] if isinstance(error, termios.error) and error.args else getattr(error, "errno", None)
    return found if isinstance(found, int) else 0


def _reason(error: BaseException) -> str:
    if number := _number_of(error):
        return os.strerror(number)
    return "it does not answer any more" if isinstance(error, TypeError) else (str(error) or type(error).__name__)
