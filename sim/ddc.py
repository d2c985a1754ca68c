"""The simulated display's control channel: DDC/CI, byte by byte, answering the display's picture settings.

Messages, checksums and times: VESA DDC/CI standard 1.1 (from memory). A message to the display is
``51, 80h + length, …, checksum``, the checksum being the exclusive or of the address 6E and all bytes; an answer is
``6E, 80h + length, …, checksum`` from the virtual address 50. In real time a message that comes much sooner after
the one before than the 50 ms of the standard finds the display busy and is lost, as on real ones; in virtual time
it is not known when it was sent.
"""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Callable
from dataclasses import replace
from functools import reduce
from operator import xor
from pathlib import Path
from typing import NamedTuple

from sim.faults import FaultSchedule, InjectedFault
from sim.scene import Scene
from sim.settings import FROM_THE_BOX, PRESETS, Settings

HOST, DISPLAY, REPLY_FROM = 0x51, 0x6E, 0x50
GET, GET_REPLY, SET, CAPABILITIES, CAPABILITIES_REPLY = 0x01, 0x02, 0x03, 0xF3, 0xE3
BUSY_S = 0.02  # not 50 ms: this process may be woken late for the message before
ANSWERS_AFTER_S = 0.02
FRAGMENT = 32

CODES = {0x10: "brightness", 0x12: "contrast", 0x14: "preset", 0x16: "red_gain", 0x18: "green_gain", 0x1A: "blue_gain"}
"""VCP codes (VESA MCCS 2.2, from memory) and the settings behind them."""
RESTORE, FIRMWARE, VERSION = 0x04, 0xC9, 0xDF
LARGEST_PRESET = max(PRESETS.values())


class Feature(NamedTuple):
    """What a VCP code answers."""

    current: int
    maximum: int


def checksum(start: int, data: bytes) -> int:
    """Exclusive or of ``start`` and every byte."""
    return reduce(xor, data, start)


def framed(payload: bytes) -> bytes:
    """An answer of the display around ``payload``."""
    head = bytes([DISPLAY, 0x80 | len(payload)]) + payload
    return head + bytes([checksum(REPLY_FROM, head)])


class DdcDisplay:
    """The display's end: bytes in, answers out. It is busy for ``busy_s`` after a message."""

    def __init__(self, scene: Scene, troubles: FaultSchedule | None = None, *, busy_s: float = 0.0) -> None:
        self._scene, self._troubles, self._busy_s = scene, troubles or FaultSchedule(), busy_s
        self._heard = b""
        self._last_s: float | None = None
        for trouble in self._troubles.resets:
            self.reset_at(trouble)

    def hear(self, data: bytes) -> list[bytes]:
        """Take what has come, and answer what can be answered."""
        self._heard += data
        answers = []
        while len(self._heard) >= 2:
            if self._heard[0] != HOST or not self._heard[1] & 0x80:
                self._heard = self._heard[1:]  # not the beginning of a message
                continue
            size = (self._heard[1] & 0x7F) + 3
            if len(self._heard) < size:
                break
            message, self._heard = self._heard[:size], self._heard[size:]
            answer = self._answer(message)
            if answer is not None:
                answers.append(answer)
        return answers

    def reset_at(self, trouble: InjectedFault) -> None:
        """Plan that the display changes a setting by itself, or all of them."""

        def reset() -> None:
            self._scene.set(self._scene.settings.but(trouble.value) if trouble.value else FROM_THE_BOX)

        self._scene.at(trouble.first, reset)

    def feature(self, code: int) -> Feature | None:
        """The value of a VCP code; None for one that this display does not have."""
        if code == VERSION:
            return Feature(0x0202, 0xFFFF)
        if code == FIRMWARE:
            return Feature(0x0104, 0xFFFF)
        if code not in CODES:
            return None
        value = getattr(self._scene.settings, CODES[code])
        return Feature(PRESETS[value], LARGEST_PRESET) if CODES[code] == "preset" else Feature(value, 100)

    def capabilities(self) -> str:
        """The capabilities that this display reports."""
        presets = " ".join(f"{value:02X}" for value in sorted(PRESETS.values()))
        codes = " ".join(f"14({presets})" if code == 0x14 else f"{code:02X}" for code in sorted({RESTORE, *CODES}))
        name = self._scene.display.model.label.partition(" (")[0].upper().replace(" ", "-")
        return (
            f"(prot(monitor)type({self._scene.display.model.panel})model({name}-INVENTED)cmds(01 02 03 0C E3 F3)"
            f"vcp({codes} {FIRMWARE:02X} {VERSION:02X})mccs_ver(2.2))"
        )

    def _answer(self, message: bytes) -> bytes | None:
        busy = self._last_s is not None and self._scene.now_s - self._last_s < self._busy_s
        self._last_s = self._scene.now_s
        payload = message[2:-1]
        if busy or not payload or checksum(DISPLAY, message) != 0:
            return None
        setting = payload[0] == SET
        trouble = self._troubles.due_elsewhere("ddc", "set") if setting else self._troubles.due_elsewhere("ddc")
        what = trouble.what if trouble is not None else ""
        if what == "silent":
            return None
        if setting and len(payload) == 4 and what != "refuse":
            value = int.from_bytes(payload[2:], "big")
            self._set(payload[1], value, trouble)
        answer = self._reply(payload, what)
        if answer is not None and what == "garbled":
            middle = len(answer) // 2
            answer = answer[:middle] + bytes([answer[middle] ^ 0x04]) + answer[middle + 1 :]
        return answer

    def _reply(self, payload: bytes, what: str) -> bytes | None:
        if payload[0] == CAPABILITIES and len(payload) == 3:
            offset = int.from_bytes(payload[1:], "big")
            part = self.capabilities().encode("ascii")[offset : offset + FRAGMENT]
            return framed(bytes([CAPABILITIES_REPLY, *payload[1:]]) + part)
        if payload[0] != GET or len(payload) != 2:
            return None
        feature = self.feature(payload[1])
        if feature is None or what == "refuse":
            return framed(bytes([GET_REPLY, 1, payload[1], 0, 0, 0, 0, 0]))
        current = feature.current ^ 1 if what == "lie" else feature.current
        two = feature.maximum.to_bytes(2, "big") + current.to_bytes(2, "big")
        return framed(bytes([GET_REPLY, 0, payload[1], 0]) + two)

    def _set(self, code: int, value: int, trouble: InjectedFault | None) -> None:
        if trouble is not None and trouble.what == "lie":
            value ^= 1
        delay_s = trouble.seconds if trouble is not None and trouble.what == "slow" else 0.0
        self._scene.at(self._scene.now_s + delay_s, lambda: self._scene.set(self._with(code, value)))

    def _with(self, code: int, value: int) -> Settings:
        """The settings with a VCP code set: brought into range, and ignored where there is no such value."""
        settings = self._scene.settings
        if code == RESTORE and value:
            return FROM_THE_BOX
        name = CODES.get(code)
        if name is None:
            return settings
        if name == "preset":
            return next((replace(settings, preset=n) for n, token in PRESETS.items() if token == value), settings)
        return replace(settings, **{name: min(value, 100)})  # type: ignore[arg-type]


class DdcSocket:
    """The control channel on a Unix socket. ``watch`` calls back when something can be read; ``after`` later on."""

    def __init__(
        self,
        display: DdcDisplay,
        path: Path,
        *,
        watch: Callable[[socket.socket, Callable[[], None]], object],
        forget: Callable[[socket.socket], object],
        after: Callable[[float, Callable[[], None]], None],
        virtual: bool,
    ) -> None:
        self._display, self._path = display, path
        self._watch, self._forget, self._after, self._virtual = watch, forget, after, virtual
        path.unlink(missing_ok=True)
        self._listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._listener.bind(str(path))
        self._listener.listen(4)
        watch(self._listener, self._welcome)

    def close(self) -> None:
        """Vanish."""
        self._listener.close()
        self._path.unlink(missing_ok=True)

    def _welcome(self) -> None:
        connection, _ = self._listener.accept()
        connection.settimeout(5.0)
        self._watch(connection, lambda: self._hear(connection))

    def _hear(self, connection: socket.socket) -> None:
        try:
            data = connection.recv(4096)
        except OSError:
            data = b""
        if not data:
            self._forget(connection)
            connection.close()
            return
        for answer in self._display.hear(data):
            if self._virtual:
                _send(connection, answer)
            else:
                self._after(ANSWERS_AFTER_S, lambda answer=answer: _send(connection, answer))  # type: ignore[misc]


def _send(connection: socket.socket, data: bytes) -> None:
    with contextlib.suppress(OSError):  # the client may be gone
        connection.sendall(data)
