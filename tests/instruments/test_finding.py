"""A meter is found by who it is, not by where it is plugged in."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

import pytest

from benchd.clock import Deadline
from benchd.errors import MeterBusy, MeterLost, MeterSilent, WrongMeter
from benchd.instruments.meter import ReadRequest
from benchd.instruments.probe import probe
from benchd.instruments.serial_meter import SerialMeter, open_serial_meter
from benchd.instruments.wire import ports
from tests.instruments.line_time import Peer
from tests.instruments.scripted import Instrument, Light, Script, connected, hasty, load

DIALECT = hasty(load("terse-line"))


def instrument(serial: str, model: str = "INVENTED-1") -> Instrument:
    return Instrument(DIALECT, [Light()], model=model, serial=serial)


def test_a_replugged_meter_is_found_under_another_name(tmp_path: Path) -> None:
    with ExitStack() as stack:
        first = stack.enter_context(connected(instrument("SN-7"), tmp_path / "port0"))
        meter = open_serial_meter(DIALECT, first.port, [str(tmp_path / "port*")])
        first.unplug()
        with pytest.raises(MeterLost):
            meter.read(ReadRequest("step", 1), Deadline.after(1.0))
        meter.close()
        # It comes back as port2, while another one has taken its old name's neighbour.
        stack.enter_context(connected(instrument("SN-8"), tmp_path / "port1"))
        stack.enter_context(connected(instrument("SN-7"), tmp_path / "port2"))
        again = open_serial_meter(
            DIALECT, first.port, [str(tmp_path / "port*")], meter.identity.serial_number, model=meter.identity.model
        )
        assert again.identity.same_meter(meter.identity)
        assert again.identity.address == str(tmp_path / "port2")
        assert again.read(ReadRequest("step", 1), Deadline.after(1.0)).xyz is not None
        again.close()


def test_another_meter_at_the_named_port_is_passed_over(tmp_path: Path) -> None:
    with connected(instrument("SN-8"), tmp_path / "port0"), connected(instrument("SN-7"), tmp_path / "port1"):
        meter = open_serial_meter(DIALECT, str(tmp_path / "port0"), [str(tmp_path / "port*")], "SN-7")
        assert meter.identity.address == str(tmp_path / "port1")
        meter.close()
        other = SerialMeter(DIALECT, str(tmp_path / "port0"))  # the one passed over was let go
        other.close()


def test_without_a_serial_number_the_first_that_answers_is_taken(tmp_path: Path) -> None:
    with connected(instrument("SN-8"), tmp_path / "port1"), connected(instrument("SN-7"), tmp_path / "port2"):
        meter = open_serial_meter(DIALECT, "auto", [str(tmp_path / "port*")])
        assert meter.identity.serial_number == "SN-8"
        meter.close()


def test_only_another_meter_answers(tmp_path: Path) -> None:
    with connected(instrument("SN-8"), tmp_path / "port0"):
        with pytest.raises(WrongMeter, match=r"SN-7.*INVENTED-1 SN-8 at"):
            open_serial_meter(DIALECT, str(tmp_path / "port0"), [], "SN-7")
        with pytest.raises(WrongMeter, match=r"INVENTED-2 SN-8.*INVENTED-1 SN-8 at"):
            open_serial_meter(DIALECT, str(tmp_path / "port0"), [], "SN-8", model="INVENTED-2")


def test_nothing_answers_and_all_that_was_tried_is_told(tmp_path: Path) -> None:
    with Peer(lambda line: (), b"\r", tmp_path / "port1"):
        with pytest.raises(MeterLost) as raised:
            open_serial_meter(DIALECT, str(tmp_path / "port0"), [str(tmp_path / "port*")])
        assert "port0: there is no port" in str(raised.value)
        assert "port1: the meter at" in str(raised.value)
        with pytest.raises(MeterSilent):
            open_serial_meter(DIALECT, str(tmp_path / "port1"))


def test_no_port_at_all(tmp_path: Path) -> None:
    with pytest.raises(MeterLost, match=r"no serial port matches .*port\*, USB adapter ffff:fffe"):
        open_serial_meter(DIALECT, "auto", [str(tmp_path / "port*")], usb="ffff:fffe")
    with pytest.raises(MeterLost, match="also needs 'candidates'"):
        open_serial_meter(DIALECT, "auto")


def test_a_meter_held_by_somebody_is_busy_not_lost(tmp_path: Path) -> None:
    with connected(instrument("SN-7"), tmp_path / "port1"):
        holder = SerialMeter(DIALECT, str(tmp_path / "port1"))
        with pytest.raises(MeterBusy):
            open_serial_meter(DIALECT, str(tmp_path / "port0"), [str(tmp_path / "port*")], "SN-7")
        holder.close()


def test_a_port_with_two_names_is_asked_once(tmp_path: Path) -> None:
    other = instrument("SN-8")
    with connected(other, tmp_path / "port0"):
        (tmp_path / "port1").symlink_to(tmp_path / "port0")
        with pytest.raises(WrongMeter):
            open_serial_meter(DIALECT, "auto", [str(tmp_path / "port*")], "SN-7")
    assert other.asked.count("ID?") == 1


def test_ports_are_listed_with_distinct_names() -> None:
    found = ports()
    assert len({port.name for port in found}) == len(found)


def test_a_probe_of_a_meter_that_speaks_the_dialect() -> None:
    dialect = load("plain-488")
    with connected(Instrument(hasty(dialect))) as peer:
        report = probe(dialect, peer.port, measure=True)
    assert report.ok
    assert [line.key for line in report.lines][-2:] == ["identify.expect", "measure.expect"]
    assert report.lines[-2].sent == b"*IDN?\n"
    assert report.lines[-2].received == b"INVENTED,INVENTED-1,SN-0001,1.2\n"


def test_a_probe_names_the_line_of_the_dialect_that_does_not_match() -> None:
    script = Script((b"RST", b"OK\r\n"), (b"UN FL", b"UNIT=FL\r\n"), (b"ID?", b"WHO"), (b"UN?", b"UN FL\r\n"))
    with Peer(script, b"\r") as peer:
        report = probe(DIALECT, peer.port)
    script.check()
    assert not report.ok
    assert [(line.key, line.matched) for line in report.lines] == [
        ("start[0].expect", True),
        ("start[1].expect", False),
        ("identify.expect", False),
        ("measure.ask_unit.expect", True),
    ]
    assert "'UNIT=FL' is not matched by start[1].expect" in report.lines[1].text
    assert report.lines[2].received == b"WHO"
    assert "end_answered" in report.lines[2].text


def test_a_probe_of_silence_and_of_no_port() -> None:
    with Peer(lambda line: (), b"\r") as peer:
        report = probe(DIALECT, peer.port)
    assert not report.ok
    assert all("nothing came" in line.text for line in report.lines)
    gone = probe(DIALECT, "/dev/none-such")
    assert not gone.ok
    assert gone.trouble is not None
    assert "there is no port" in gone.trouble
