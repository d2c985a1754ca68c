"""The simulated display's control channel, message by message and behind the companion's socket."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.clock import CompanionClock, Deadline, RealClock
from benchd.errors import ControlError
from benchd.instruments import ddc
from benchd.instruments.open_controls import OpenControls, open_controls
from benchd.profile.bench import Bench
from benchd.profile.reading.strict_yaml import load_model
from sim.ddc import BUSY_S, DdcDisplay, checksum, framed
from sim.faults import DDC_MEANING, FaultSchedule, parse_trouble
from sim.inprocess import CONTROL_ERRORS, SimControls, scene_of
from tests.sim.companion import ROOT, Companion, companion

# Worked examples of the VESA DDC/CI standard 1.1 (from memory).
GET_BRIGHTNESS = bytes.fromhex("51 82 01 10 ac")
SET_BRIGHTNESS_50 = bytes.fromhex("51 84 03 10 00 32 9a")
BRIGHTNESS_50 = bytes.fromhex("6e 88 02 00 10 00 00 64 00 32 f2")


def message(*payload: int) -> bytes:
    head = bytes([0x51, 0x80 | len(payload), *payload])
    return head + bytes([checksum(0x6E, head)])


def display(*faults: str, busy_s: float = 0.0) -> DdcDisplay:
    return DdcDisplay(scene_of(), FaultSchedule(tuple(parse_trouble(fault) for fault in faults)), busy_s=busy_s)


def test_it_speaks_as_the_standard_says() -> None:
    shown = display()
    assert shown.hear(SET_BRIGHTNESS_50) == []
    assert shown.hear(GET_BRIGHTNESS) == [BRIGHTNESS_50]


def test_messages_in_pieces_and_in_one() -> None:
    shown = display()
    assert [answer for byte in SET_BRIGHTNESS_50 for answer in shown.hear(bytes([byte]))] == []
    assert shown.hear(b"\x00\xff" + GET_BRIGHTNESS + GET_BRIGHTNESS) == [BRIGHTNESS_50] * 2


def test_a_wrong_checksum_is_not_heard() -> None:
    shown = display()
    assert shown.hear(SET_BRIGHTNESS_50[:-1] + b"\x00") == []
    assert shown.feature(0x10).current == 100  # type: ignore[union-attr]


def test_capabilities_come_in_pieces() -> None:
    shown = display()
    text = b""
    while True:
        [answer] = shown.hear(message(0xF3, *len(text).to_bytes(2, "big")))
        piece = answer[5:-1]
        if not piece:
            break
        assert len(piece) <= 32
        text += piece
    assert text.decode() == shown.capabilities()
    assert "14(01 04 05 08 0B)" in shown.capabilities()


@settings(max_examples=300, derandomize=True, deadline=None)
@given(data=st.binary(max_size=60))
def test_no_bytes_break_it(data: bytes) -> None:
    shown = display()
    for answer in shown.hear(data):
        assert answer == framed(answer[2:-1])
    shown.hear(bytes(140))
    assert shown.hear(GET_BRIGHTNESS)[-1][:5] == BRIGHTNESS_50[:5]


def test_values_that_it_does_not_have() -> None:
    shown = display()
    shown.hear(message(3, 0x10, 0, 200))
    assert shown.feature(0x10).current == 100  # type: ignore[union-attr]
    shown.hear(message(3, 0x14, 0, 99))
    assert shown.feature(0x14).current == 5  # type: ignore[union-attr]
    assert shown.hear(message(1, 0x62))[0][3] == 1  # result code: unsupported
    shown.hear(SET_BRIGHTNESS_50)
    shown.hear(message(3, 0x04, 0, 1))
    assert shown.feature(0x10).current == 100  # type: ignore[union-attr]


def test_too_soon_is_lost_in_real_time() -> None:
    shown = display(busy_s=BUSY_S)
    assert shown.hear(GET_BRIGHTNESS + GET_BRIGHTNESS) == [bytes.fromhex("6e 88 02 00 10 00 00 64 00 64 a4")]


@pytest.mark.parametrize("what", sorted(DDC_MEANING))
def test_every_trouble_is_known_in_process_too(what: str) -> None:
    controls = SimControls(scene_of(), FaultSchedule((parse_trouble(f"set:2:{what}"),)))
    control = controls["brightness"]
    control.set(50, Deadline.after(1.0))
    if what == "slow":
        assert control.set(40, Deadline.after(1.0)).elapsed_s == 1.5
    else:
        with pytest.raises(CONTROL_ERRORS[what]):
            control.set(40, Deadline.after(1.0))
    assert control.set(30, Deadline.after(1.0)).read_back == 30


def test_controls_in_process() -> None:
    scene = scene_of()
    controls = SimControls(scene, FaultSchedule((parse_trouble("at:100:reset:brightness=20"),)))
    assert set(controls) == {"brightness", "contrast", "preset", "red_gain", "green_gain", "blue_gain"}
    controls["preset"].set("warm", Deadline.after(1.0))
    with pytest.raises(ControlError, match="no preset 'vivid'"):
        controls["preset"].set("vivid", Deadline.after(1.0))
    scene.advance(101.0)
    assert controls["brightness"].read(Deadline.after(1.0)) == 20
    controls.close()


# behind the companion's socket

BENCH = load_model(Bench, (ROOT / "profiles" / "benches" / "sim-office.yaml").read_text(), "sim-office.yaml")


@pytest.fixture
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """The display is another process, which a loaded machine may wake late; here it always answers."""
    monkeypatch.setattr(ddc, "SOCKET_ANSWERS_WITHIN_S", 20.0)


def controls_of(bench: Companion, clock: CompanionClock | RealClock) -> OpenControls:
    return open_controls(
        BENCH.controls, BENCH.ddc, clock, in_scratch=lambda text: text.replace("{scratch}", str(bench.folder))
    )


@pytest.mark.usefixtures("patient")
def test_the_bench_sets_its_display(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line") as bench:
        clock = CompanionClock(str(tmp_path / "bench.sock"))
        controls = controls_of(bench, clock)
        assert all(answer.ok for answer in controls.describe())
        bench.show(255, 255, 255)
        before = bench.ask("truth")["here"]["xyz"][1]
        assert controls["brightness"].set(50, Deadline.after(60.0)).read_back == 50
        truth = bench.ask("truth")
        assert truth["settings"]["brightness"] == 50
        assert truth["here"]["xyz"][1] < 0.7 * before
        bench.ask("set", setting="preset=cool")  # a hand at the display's menu
        assert controls["preset"].read(Deadline.after(60.0)) == "cool"
        now_s = clock.now_s()
        bench.ask("fault", fault=f"at:{now_s + 60}:reset:brightness=10")
        bench.ask("advance", s=61.0)
        assert controls["brightness"].read(Deadline.after(60.0)) == 10
        controls.close()
        clock.close()


def test_the_bench_in_real_time(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line", "--time", "real", "--fault", "set:1:slow:0.3") as bench:
        controls = controls_of(bench, RealClock())
        outcome = controls["brightness"].set(50, Deadline.after(60.0))
        assert outcome.read_back == 50
        assert outcome.elapsed_s >= 0.3
        controls.close()


def test_whoever_leaves_in_mid_message_does_no_harm(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line") as bench:
        for data in (b"", b"\x51", GET_BRIGHTNESS * 50):
            with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as visitor:
                visitor.connect(str(tmp_path / "ddc.sock"))
                visitor.sendall(data)
        assert "now_s" in bench.ask("now")
