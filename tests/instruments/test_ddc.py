"""The display's control channel: bytes, checksums, pauses, and every way it can fail."""

from __future__ import annotations

import contextlib
import os
import re
import threading
import tty
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from monitorcontrol.vcp import vcp_linux  # type: ignore[import-untyped]

from benchd.clock import Deadline, RealClock, VirtualClock
from benchd.errors import ControlAbsent, ControlGarbled, ControlRefused, ControlSilent
from benchd.instruments import ddc
from benchd.instruments.ddc import (
    ANSWER_AFTER_S,
    BETWEEN_S,
    DdcBus,
    DdcChannel,
    SocketLink,
    Value,
    displays_on_buses,
    find_bus,
    product_name,
)
from tests.instruments.ddc_peer import Channel, SimulatedDisplay

# Messages as worked examples of the VESA DDC/CI standard 1.1 give them (from memory): Get VCP Feature of brightness
# (10h), its reply with 50 of 100, Set VCP Feature to 50, and the first Capabilities Request.
GET_BRIGHTNESS = bytes.fromhex("51 82 01 10 ac")
BRIGHTNESS_50 = bytes.fromhex("6e 88 02 00 10 00 00 64 00 32 f2")
SET_BRIGHTNESS_50 = bytes.fromhex("51 84 03 10 00 32 9a")
FIRST_CAPABILITIES = bytes.fromhex("51 83 f3 00 00 4f")
NO_ANSWER_YET = bytes.fromhex("6e 80 be")


def soon() -> Deadline:
    return Deadline.after(60.0)


@pytest.fixture
def display(tmp_path: Path) -> Iterator[SimulatedDisplay]:
    with SimulatedDisplay(tmp_path / "ddc") as channel:
        yield channel


def bus_of(channel: SimulatedDisplay) -> DdcBus:
    return DdcBus(str(channel.path), channel.clock)


def test_bytes_are_those_of_the_standard(tmp_path: Path) -> None:
    with Channel(tmp_path / "ddc", lambda data: [BRIGHTNESS_50]) as channel:
        bus = DdcBus(str(channel.path), VirtualClock())
        assert bus.get(0x10, soon()) == Value(50, 100)
        bus.put(0x10, 50, soon())
        assert bus.get(0x10, soon()) == Value(50, 100)
        bus.close()
    assert channel.heard == [GET_BRIGHTNESS] * 2 + [SET_BRIGHTNESS_50] + [GET_BRIGHTNESS] * 2


def test_checksums_of_the_standard() -> None:
    assert DdcChannel.get_checksum(b"\x6e" + GET_BRIGHTNESS[:-1]) == GET_BRIGHTNESS[-1]
    assert DdcChannel.get_checksum(BRIGHTNESS_50[:-1]) == BRIGHTNESS_50[-1]
    assert DdcChannel.get_checksum(FIRST_CAPABILITIES[:-1]) == FIRST_CAPABILITIES[-1]
    assert DdcChannel.get_checksum(NO_ANSWER_YET[:-1]) == NO_ANSWER_YET[-1]


def test_every_code_is_read_and_set(display: SimulatedDisplay) -> None:
    bus = bus_of(display)
    for code, value in ((0x10, 30), (0x12, 60), (0x14, 4), (0x16, 90), (0x18, 80), (0x1A, 70)):
        bus.put(code, value, soon())
        assert bus.get(code, soon()).current == value
    assert display.scene.settings.preset == "warm"
    bus.close()


def test_capabilities_through_the_library(display: SimulatedDisplay) -> None:
    bus = bus_of(display)
    told = bus.capabilities(soon())
    assert told["model"] == "PLOVER-27-INVENTED"
    assert told["mccs_ver"] == "2.2"
    assert set(told["vcp"]) == {0x04, 0x10, 0x12, 0x14, 0x16, 0x18, 0x1A, 0xC9, 0xDF}
    assert set(told["vcp"][0x14]) == {1, 4, 5, 8, 11}
    assert display.heard[0] == FIRST_CAPABILITIES
    text = bus.describe(soon())
    assert "PLOVER-27-INVENTED" in text
    assert "VCP codes 4, 16, 18, 20, 22, 24, 26, 201, 223" in text
    bus.close()


def test_messages_keep_their_distance_by_the_clock_of_the_bench(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = VirtualClock()
    came: list[float] = []
    send = SocketLink._send

    def noted(link: SocketLink, data: bytes) -> None:
        came.append(clock.now_s())
        send(link, data)

    monkeypatch.setattr(SocketLink, "_send", noted)
    hear = {GET_BRIGHTNESS: [BRIGHTNESS_50], SET_BRIGHTNESS_50: []}
    with Channel(tmp_path / "ddc", hear.__getitem__) as channel:
        bus = DdcBus(str(channel.path), clock)
        for _ in range(5):
            bus.put(0x10, 50, soon())
            bus.get(0x10, soon())
        bus.close()
    gaps = [after - before for before, after in pairwise(came)]
    assert min(gaps) >= BETWEEN_S - 1e-9
    assert max(gaps) == pytest.approx(ANSWER_AFTER_S + BETWEEN_S)  # after a question, its answer was awaited too


def test_messages_keep_their_distance_in_real_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = RealClock()
    went: list[float] = []
    send = SocketLink._send

    def noted(link: SocketLink, data: bytes) -> None:
        went.append(clock.now_s())
        send(link, data)

    monkeypatch.setattr(SocketLink, "_send", noted)
    with Channel(tmp_path / "ddc", lambda data: []) as channel:
        bus = DdcBus(str(channel.path), clock)
        for _ in range(4):
            bus.put(0x10, 50, soon())
        bus.close()
    assert len(went) == 4
    assert min(after - before for before, after in pairwise(went)) >= BETWEEN_S - 1e-6


@settings(max_examples=80, derandomize=True, deadline=None)
@given(byte=st.integers(0, len(BRIGHTNESS_50) - 1), bit=st.integers(0, 7))
def test_one_flipped_bit_is_never_a_value(tmp_path_factory: pytest.TempPathFactory, byte: int, bit: int) -> None:
    damaged = bytearray(BRIGHTNESS_50)
    damaged[byte] ^= 1 << bit
    path = tmp_path_factory.mktemp("bus") / "ddc"
    with Channel(path, lambda data: [bytes(damaged)]) as channel:
        bus = DdcBus(str(channel.path), VirtualClock())
        with pytest.raises((ControlGarbled, ControlSilent)):
            bus.get(0x10, soon())
        bus.close()


def test_a_damaged_answer_is_asked_again(tmp_path: Path) -> None:
    answers = [BRIGHTNESS_50[:-1] + b"\x00", BRIGHTNESS_50, BRIGHTNESS_50]
    with Channel(tmp_path / "ddc", lambda data: [answers.pop(0)]) as channel:
        bus = DdcBus(str(channel.path), VirtualClock())
        assert bus.get(0x10, soon()) == Value(50, 100)
        bus.close()
    assert len(channel.heard) == 3


def reply(current: int, code: int = 0x10, result: int = 0) -> bytes:
    head = bytes([0x6E, 0x88, 0x02, result, code, 0, 0, 100, 0, current])
    return head + bytes([DdcChannel.get_checksum(head)])


def test_a_value_counts_once_two_answers_agree(tmp_path: Path) -> None:
    values = [10, 11, 12, 12]
    with Channel(tmp_path / "ddc", lambda data: [reply(values.pop(0))]) as channel:
        bus = DdcBus(str(channel.path), VirtualClock())
        assert bus.get(0x10, soon()).current == 12
        bus.close()


def test_one_answer_that_confirms_what_was_agreed_on_is_enough(tmp_path: Path) -> None:
    values = [10, 10, 10, 12, 12, 12, 10, 10]
    with Channel(tmp_path / "ddc", lambda data: [reply(values.pop(0))] if data[2] == 0x01 else []) as channel:
        bus = DdcBus(str(channel.path), VirtualClock())
        assert [bus.get(0x10, soon()).current for _ in range(2)] == [10, 10]  # two answers, then one
        assert bus.get(0x10, soon()).current == 12  # another value needs two of its own
        assert len(values) == 3
        bus.put(0x10, 10, soon())  # after which nothing is known
        assert bus.get(0x10, soon()).current == 10
        assert values == []
        bus.close()


def test_values_that_never_agree_are_no_value(tmp_path: Path) -> None:
    count = iter(range(100))
    with Channel(tmp_path / "ddc", lambda data: [reply(next(count))]) as channel:
        bus = DdcBus(str(channel.path), VirtualClock())
        with pytest.raises(ControlGarbled, match="another value each time"):
            bus.get(0x10, soon())
        bus.close()


def test_an_answer_to_another_question_is_no_answer(tmp_path: Path) -> None:
    with Channel(tmp_path / "ddc", lambda data: [reply(10, code=0x12)]) as channel:
        bus = DdcBus(str(channel.path), VirtualClock())
        with pytest.raises(ControlGarbled, match="VCP code 16"):
            bus.get(0x10, soon())
        bus.close()


def test_no_such_code_is_refused_at_once(display: SimulatedDisplay) -> None:
    bus = bus_of(display)
    with pytest.raises(ControlRefused, match="reports that it has no VCP code 98"):
        bus.get(0x62, soon())
    assert len(display.heard) == 1
    bus.close()


def test_silence_is_told_and_ends(tmp_path: Path) -> None:
    with Channel(tmp_path / "ddc", lambda data: []) as channel:
        bus = DdcBus(str(channel.path), VirtualClock())
        with pytest.raises(ControlSilent, match="does not answer"):
            bus.get(0x10, soon())
    assert channel.heard == [GET_BRIGHTNESS] * 3


def test_not_yet_is_silence(tmp_path: Path) -> None:
    answers = [NO_ANSWER_YET, NO_ANSWER_YET, BRIGHTNESS_50, BRIGHTNESS_50]
    with Channel(tmp_path / "ddc", lambda data: [answers.pop(0)]) as channel:
        bus = DdcBus(str(channel.path), VirtualClock())
        assert bus.get(0x10, soon()).current == 50
        bus.close()


def test_half_an_answer_is_garbled(tmp_path: Path) -> None:
    with Channel(tmp_path / "ddc", lambda data: [BRIGHTNESS_50[:6]]) as channel:
        bus = DdcBus(str(channel.path), VirtualClock())
        with pytest.raises(ControlGarbled):
            bus.get(0x10, soon())
        bus.close()


def test_a_display_that_comes_back_is_found_again(tmp_path: Path) -> None:
    path = tmp_path / "ddc"
    bus = DdcBus(str(path), VirtualClock())
    with Channel(path, lambda data: [BRIGHTNESS_50]):
        assert bus.get(0x10, soon()).current == 50
    with pytest.raises((ControlAbsent, ControlSilent)):
        bus.get(0x10, soon())
    with Channel(path, lambda data: [BRIGHTNESS_50]):
        assert bus.get(0x10, soon()).current == 50
    bus.close()


@pytest.mark.parametrize("address", ["/dev/i2c-987", "/nowhere/ddc.sock"])
def test_no_bus(address: str) -> None:
    with pytest.raises(ControlAbsent, match="no control channel of a display opens"):
        DdcBus(address, VirtualClock()).get(0x10, soon())


def test_capabilities_that_are_cut_off_are_no_crash(tmp_path: Path) -> None:
    body = b"\xe3\x00\x00(vcp(10 14(05"
    parts = {b"\x00\x00": body}

    def hear(data: bytes) -> list[bytes]:
        payload = parts.get(data[3:5], b"\xe3" + data[3:5])
        head = bytes([0x6E, 0x80 | len(payload)]) + payload
        return [head + bytes([DdcChannel.get_checksum(head)])]

    with Channel(tmp_path / "ddc", hear) as channel:
        bus = DdcBus(str(channel.path), VirtualClock())
        told = bus.capabilities(soon())
        assert told["model"] == ""
        parts[b"\x00\x00"] = b"\xe3\x00\x00(vcp(1X \xff\xfe))"
        with pytest.raises(ControlGarbled):
            bus.capabilities(soon())
        bus.close()


class Device:
    """A file that stands in for an I2C device: the library opens, writes and reads it with its own code."""

    def __init__(self) -> None:
        self._far, self._near = os.openpty()
        tty.setraw(self._near)
        self.path = os.ttyname(self._near)
        self.heard = b""
        self.addressed: list[tuple[int, int]] = []
        os.write(self._far, b"\x00")  # what the library reads when it opens a bus
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def _serve(self) -> None:
        with contextlib.suppress(OSError):
            while len(self.heard) < 2 * len(GET_BRIGHTNESS):
                message = os.read(self._far, 64)
                self.heard += message
                os.write(self._far, BRIGHTNESS_50)

    def close(self) -> None:
        self._thread.join(5.0)
        os.close(self._near)
        os.close(self._far)


def test_an_i2c_device_through_the_librarys_own_code(monkeypatch: pytest.MonkeyPatch) -> None:
    device = Device()
    monkeypatch.setattr(ddc, "_I2C", re.compile(r"/dev/pts/\d+"))
    monkeypatch.setattr(
        vcp_linux.fcntl, "ioctl", lambda descriptor, request, value: device.addressed.append((request, value))
    )
    bus = DdcBus(device.path, RealClock())
    assert bus.get(0x10, soon()) == Value(50, 100)
    bus.close()
    device.close()
    assert device.heard == 2 * GET_BRIGHTNESS
    assert device.addressed == [(0x0703, 0x37)]  # I2C_SLAVE (Linux kernel, i2c-dev) and the address of DDC/CI


# EDID: layout after VESA E-EDID standard, release A (from memory).


def edid(name: bytes) -> bytes:
    block = bytearray(128)
    block[:8] = bytes.fromhex("00ffffffffffff00")
    block[54:59] = bytes.fromhex("000000ff00")  # a serial number stands in the first descriptor
    block[72 : 72 + 18] = (bytes.fromhex("000000fc00") + name + b"\n").ljust(18, b" ")
    block[127] = -sum(block) % 256
    return bytes(block)


def test_the_name_in_an_edid() -> None:
    good = edid(b"PLOVER 27")
    assert product_name(good) == "PLOVER 27"
    assert product_name(good + bytes(128)) == "PLOVER 27"
    assert product_name(good[:-1] + bytes([good[-1] ^ 1])) == ""
    assert product_name(b"") == ""


def test_buses_of_displays(tmp_path: Path) -> None:
    (tmp_path / "i2c-4").mkdir()
    hdmi = tmp_path / "card0-HDMI-A-1"
    hdmi.mkdir()
    (hdmi / "edid").write_bytes(edid(b"PLOVER 27"))
    os.symlink(tmp_path / "i2c-4", hdmi / "ddc")
    with_own = tmp_path / "card0-DP-1"
    (with_own / "i2c-7").mkdir(parents=True)
    (with_own / "edid").write_bytes(edid(b"CURLEW 32"))
    empty = tmp_path / "card0-DP-2"
    (empty / "i2c-8").mkdir(parents=True)
    (empty / "edid").write_bytes(b"")
    found = {(one.name, one.bus) for one in displays_on_buses(str(tmp_path))}
    assert found == {("PLOVER 27", "/dev/i2c-4"), ("CURLEW 32", "/dev/i2c-7")}
    assert find_bus("PLOVER 27", str(tmp_path)) == "/dev/i2c-4"
    with pytest.raises(ControlAbsent, match=r"more than one is there .*CURLEW 32 at /dev/i2c-7"):
        find_bus(None, str(tmp_path))
    with pytest.raises(ControlAbsent, match="none is there"):
        find_bus("AVOCET 27", str(tmp_path))
