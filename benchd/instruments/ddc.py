"""The display's own control channel, DDC/CI, through the library monitorcontrol. Its only importer.

The library builds and takes apart the messages; what is put right here was seen by running it (version 4.2):
its pause between messages never waits, its strict checksum leaves out the 0x50 that a reply is summed from, and its
question for the capabilities leaves out the address that a question is summed from. So pauses are ours and kept by the
bench's clock, checksums are right and strict, every query is repeated when it fails, and a value counts
once two answers agree.

Times and the arithmetic of the checksum: VESA DDC/CI standard 1.1 (from memory): an answer is fetched 40 ms after its
question at the earliest, messages are 50 ms apart, a question is summed from the display's address 0x6E and a reply
from the virtual host's address 0x50. A bus is an I2C device of this computer, or a Unix socket that carries the same
bytes.

Which display is behind which I2C bus shows in the EDID that the kernel has (Linux only; read, never written). Layout
after the VESA E-EDID standard, release A (from memory): 128 bytes that add up to a multiple of 256, four descriptors of
18 bytes from byte 54; one that begins with 00 00 00 FC 00 holds the product name, ended by a line feed.
"""

from __future__ import annotations

import errno
import os
import re
import select
import socket
import struct
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from monitorcontrol import Monitor, VCPError, VCPIOError, VCPPermissionError
from monitorcontrol.vcp.vcp_linux import LinuxVCP

from benchd.clock import Clock, Deadline
from benchd.errors import ControlAbsent, ControlError, ControlGarbled, ControlRefused, ControlSilent
from benchd.instruments.control import NEVER, TRIES

BLOCK = 128
_HEADER = bytes.fromhex("00ffffffffffff00")
_NAME = bytes.fromhex("000000fc00")
_BUS = re.compile(r"i2c-\d+\Z")


class DisplayOnBus(NamedTuple):
    """A display that is connected. ``name`` is empty where its EDID has none or can't be read."""

    name: str
    bus: str  # "/dev/i2c-4"
    connector: str  # "card0-HDMI-A-1"


def product_name(edid: bytes) -> str:
    """The product name; empty where there is none or the block is damaged."""
    block = edid[:BLOCK]
    if len(block) < BLOCK or not block.startswith(_HEADER) or sum(block) % 256:
        return ""
    for start in (54, 72, 90, 108):
        descriptor = block[start : start + 18]
        if descriptor.startswith(_NAME):
            return descriptor[5:].partition(b"\n")[0].decode("ascii", errors="replace").strip()
    return ""


def displays_on_buses(folder: str = "/sys/class/drm") -> tuple[DisplayOnBus, ...]:
    """Every connected display whose I2C bus the kernel lists, in the order of the connectors."""
    found = []
    for connector in sorted(Path(folder).glob("card*-*")):
        try:
            edid = (connector / "edid").read_bytes()
        except OSError:
            continue
        bus = _bus_of(connector)
        if edid and bus:
            found.append(DisplayOnBus(product_name(edid), f"/dev/{bus}", connector.name))
    return tuple(found)


def _bus_of(connector: Path) -> str:
    """A connector has its own bus below it (DisplayPort), or a link ``ddc`` to one."""
    if own := sorted(path.name for path in connector.glob("i2c-*") if _BUS.match(path.name)):
        return own[0]
    link = connector / "ddc"
    name = link.resolve().name if link.exists() else ""
    return name if _BUS.match(name) else ""


ANSWER_AFTER_S = 0.040
BETWEEN_S = 0.050
SOCKET_ANSWERS_WITHIN_S = 0.3
LONGEST_ANSWER = 35
MAX_READS = 5

_I2C = re.compile(r"/dev/i2c-\d+\Z")
_DISPLAY, _HOST, _REPLY_FROM = 0x6E, 0x51, 0x50

Answer = TypeVar("Answer")


class Value(NamedTuple):
    """The answer of a control: its present value and its largest."""

    current: int
    maximum: int


class _Silent(VCPIOError):  # type: ignore[misc]  # the library has no types
    """Nothing came."""


class DdcChannel(LinuxVCP):  # type: ignore[misc]  # the library has no types
    """The library's channel with our pauses and the standard's checksums."""

    CHECKSUM_ERRORS = "strict"
    GET_VCP_TIMEOUT = 0.0  # the library's own wait, which is of real time; ours is in read_bytes

    def __init__(self, address: str, clock: Clock) -> None:
        super().__init__(0)
        self.fp = address
        self.deadline = Deadline.after(0.0)
        self._clock = clock
        self._last_s = clock.now_s()  # of the last byte that went either way: others may have used the bus before
        self._asked = False

    @staticmethod
    def get_checksum(data: bytes) -> int:
        """Exclusive or of all bytes and the address that the message is summed from."""
        if data[0] == _HOST:
            start = _DISPLAY  # the question for the capabilities, where the library leaves it out
        elif data[0] == _DISPLAY and data[1] == _HOST:
            start = 0  # any other question: the library has put the address in front
        else:
            start = _REPLY_FROM
        for byte in data:
            start ^= byte
        return start

    def rate_limt(self) -> None:
        """Nothing: the pause is kept in write_bytes, before every message and not only after some."""

    def write_bytes(self, data: bytes) -> None:
        """Send one message, at least `BETWEEN_S` after the traffic before it."""
        self._last_s = self._rest(BETWEEN_S)
        self._send(bytes(data))
        if not self._clock.virtual:  # the wait may have been longer than requested
            self._last_s = self._clock.now_s()
        self._asked = True

    def read_bytes(self, num_bytes: int) -> bytes:
        """Exactly so many bytes; the first of an answer at least `ANSWER_AFTER_S` after its question."""
        begins, self._asked = self._asked, False
        if begins:
            self._rest(ANSWER_AFTER_S)
        data = self._receive(num_bytes)
        if not begins and not self._clock.virtual:  # the rest of an answer, and so its end
            self._last_s = self._clock.now_s()
        if len(data) != num_bytes:
            raise VCPIOError(f"{len(data)} of {num_bytes} bytes came")
        if begins:
            length = data[-1] & 0x7F
            if data[0] != _DISPLAY or not data[-1] & 0x80 or length > LONGEST_ANSWER:
                raise VCPIOError(f"an answer can't begin with {data.hex(' ')}")
            if length == 0:
                raise _Silent("it answers that it has no answer yet")
        return data

    def _rest(self, seconds: float) -> float:
        """Wait until the bus was quiet for so long; the moment it is then."""
        if self._clock.virtual:  # nothing is won by waiting less, and reading the time takes as long as the wait
            self._clock.sleep(seconds, NEVER)
            return self._last_s
        now_s = self._clock.now_s()
        if (left_s := self._last_s + seconds - now_s) <= 0:
            return now_s
        self._clock.sleep(left_s, NEVER)
        return now_s + left_s

    def _send(self, data: bytes) -> None:
        super().write_bytes(data)

    def _receive(self, num_bytes: int) -> bytes:
        data: bytes = super().read_bytes(num_bytes)
        return data


class SocketLink(DdcChannel):
    """The same bytes over a Unix socket: a display on another machine, or one that is simulated."""

    def __enter__(self) -> SocketLink:
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            self._socket.settimeout(SOCKET_ANSWERS_WITHIN_S)
            self._socket.connect(self.fp)
        except OSError as error:
            self._socket.close()
            raise VCPIOError(f"no socket {self.fp}") from error
        return self

    def __exit__(self, *exc_info: object) -> None:
        self._socket.close()

    def _send(self, data: bytes) -> None:
        try:
            while select.select([self._socket], [], [], 0.0)[0] and self._socket.recv(4096):
                pass  # what is still unread belongs to a query that was given up
            self._socket.sendall(data)
        except OSError as error:
            raise VCPIOError("it has gone") from error

    def _receive(self, num_bytes: int) -> bytes:
        # A display that keeps virtual time answers at once or never; its time passes all the same.
        within_s = SOCKET_ANSWERS_WITHIN_S / 2 if self._clock.virtual else SOCKET_ANSWERS_WITHIN_S
        limit = Deadline.after(min(within_s, self.deadline.left_s))
        data = b""
        while len(data) < num_bytes:
            if not select.select([self._socket], [], [], limit.left_s)[0]:
                if data:
                    break
                if self._clock.virtual:
                    self._clock.sleep(SOCKET_ANSWERS_WITHIN_S, NEVER)
                raise _Silent("nothing came")
            try:
                more = self._socket.recv(num_bytes - len(data))
            except OSError as error:
                raise VCPIOError("it has gone") from error
            if not more:
                raise _Silent("it closed the connection")
            data += more
        return data


class DdcBus:
    """One display's control channel. Opened with the first question; opened anew after silence.

    Every method raises `ControlAbsent`, `ControlRefused`, `ControlSilent` or `ControlGarbled`.
    """

    def __init__(self, address: str, clock: Clock) -> None:
        self.address, self._clock = address, clock
        self._monitor: Any = None  # the library's Monitor, entered
        self._agreed: dict[int, Value] = {}  # by VCP code: what two answers agreed on last

    def get(self, code: int, deadline: Deadline) -> Value:
        """The value of a VCP code, once two answers agree: two in a row, or one with what was agreed on before."""

        def ask(monitor: Any) -> Value:
            return Value(*monitor.vcp.get_vcp_feature(code))

        before = self._tried(code, ask, deadline)
        if before == self._agreed.get(code):
            return before
        for _ in range(MAX_READS):
            after = self._tried(code, ask, deadline)
            if before == after:
                self._agreed[code] = after
                return after
            before = after
        raise ControlGarbled(
            f"{_control(code)} of the display at {self.address} reads another value each time (last {before.current}); "
            "look whether the display changes it by itself, and at the cable"
        )

    def put(self, code: int, value: int, deadline: Deadline) -> None:
        """Send a value. A display does not acknowledge: read it back."""
        self._agreed.pop(code, None)
        self._tried(code, lambda monitor: monitor.vcp.set_vcp_feature(code, value), deadline)

    def capabilities(self, deadline: Deadline) -> dict[str, Any]:
        """The capabilities that the display reports, taken apart: "model", "vcp", "mccs_ver" and more."""
        found: dict[str, Any] = self._tried(None, lambda monitor: monitor.get_vcp_capabilities(), deadline)
        return found

    def describe(self, deadline: Deadline) -> str:
        """The display in words, for the doctor."""
        found = self.capabilities(deadline)
        codes = ", ".join(str(code) for code in sorted(found["vcp"])) or "none"
        version = f", MCCS {found['mccs_ver']}" if found["mccs_ver"] else ""
        return f"{found['model'] or 'a display without a name'} at {self.address}{version}; VCP codes {codes}"

    def close(self) -> None:
        """Let go of the bus; never raises."""
        self._agreed.clear()  # another display may answer next
        if self._monitor is not None:
            with suppress(VCPError, OSError):
                self._monitor.__exit__(None, None, None)
            self._monitor = None

    def _tried(self, code: int | None, ask: Callable[[Any], Answer], deadline: Deadline) -> Answer:
        """Query up to `TRIES` times; what the display refuses, or what is not there, is not repeated."""
        for number in range(1, TRIES + 1):
            try:
                return ask(self._opened(deadline))
            except (VCPError, struct.error, ValueError, LookupError) as trouble:
                error = self._error(code, trouble)
            if not isinstance(error, ControlGarbled):
                self.close()  # a late answer of this connection must not meet a later question
            if isinstance(error, ControlRefused | ControlAbsent) or number == TRIES or deadline.passed:
                raise error
        raise AssertionError("the last try returns or raises")

    def _opened(self, deadline: Deadline) -> Any:
        if self._monitor is None:
            link = (DdcChannel if _I2C.match(self.address) else SocketLink)(self.address, self._clock)
            link.deadline = deadline
            monitor = Monitor(link)
            monitor.__enter__()
            self._monitor = monitor
        self._monitor.vcp.deadline = deadline
        return self._monitor

    def _error(self, code: int | None, trouble: Exception) -> ControlError:
        """One of our errors for an error of the library or the bus."""
        what = "the capabilities" if code is None else _control(code)
        cause = trouble.__cause__
        number = cause.errno if isinstance(cause, OSError) else None
        if isinstance(trouble, VCPPermissionError) or number in (errno.EACCES, errno.EPERM):
            return ControlAbsent(
                f"{self.address} may not be opened by this user; join the group that owns it (often 'i2c'), log in "
                "again and try again"
            )
        if str(trouble) == LinuxVCP.GET_VCP_RESULT_CODES[1]:
            return ControlRefused(
                f"the display at {self.address} reports that it has no {what}; correct 'controls' of the bench, or "
                "turn DDC/CI on in the display's menu"
            )
        if self._monitor is None and number is not None and number not in (errno.ENXIO, errno.EREMOTEIO, errno.EIO):
            return ControlAbsent(
                f"no control channel of a display opens at {self.address} ({os.strerror(number)}); correct 'ddc' of "
                "the bench (on Linux the module i2c-dev makes /dev/i2c-N)"
            )
        if isinstance(trouble, _Silent) or number is not None:
            return ControlSilent(
                f"the display at {self.address} does not answer, queried for {what} ({trouble}); check whether it is "
                "awake and DDC/CI is on in its menu"
            )
        return ControlGarbled(
            f"the display at {self.address} gave a damaged answer, queried for {what} ({trouble}); check the cable, "
            "and whether another program talks to the display"
        )


def find_bus(name: str | None, folder: str = "/sys/class/drm") -> str:
    """The I2C bus of the only display, or of the one whose EDID has ``name``. Raises `ControlAbsent`."""
    found = [one for one in displays_on_buses(folder) if name in (None, one.name)]
    if len(found) == 1:
        return found[0].bus
    listed = ", ".join(f"{one.name or 'no name'} at {one.bus} ({one.connector})" for one in displays_on_buses(folder))
    wanted = "a display" if name is None else f"display {name!r}"
    problem = "more than one is there" if found else "none is there"
    raise ControlAbsent(
        f"looked for the control channel of {wanted}: {problem} (found: {listed or 'nothing'}); name one in 'ddc' of "
        "the bench, such as bus: /dev/i2c-4 (on Linux the module i2c-dev makes these)"
    )


def _control(code: int) -> str:
    return f"VCP code {code}"
