"""Ports that can't be opened, and meters that somebody else holds."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from benchd.clock import Deadline
from benchd.errors import MeterBusy, MeterError, MeterLost
from benchd.instruments.meter import ReadRequest
from benchd.instruments.serial_meter import SerialMeter
from benchd.instruments.wire import Wire, shown
from benchd.profile.dialect import PortSettings
from tests.instruments.scripted import Instrument, connected, hasty, load

ROOT = Path(__file__).parents[2]

HOLDER = """
import sys, time
from benchd.instruments.serial_meter import SerialMeter
from benchd.profile.dialect import Dialect
from benchd.profile.reading.strict_yaml import load_model
text = open(sys.argv[1]).read()
meter = SerialMeter(load_model(Dialect, text, "d"), sys.argv[2])
print(meter.identity.serial_number, flush=True)
time.sleep(60)
"""


@pytest.mark.parametrize("name", ["terse-line", "plain-488"])
def test_two_processes_can_t_open_one_meter_and_a_killed_one_lets_go(name: str) -> None:
    instrument = Instrument(hasty(load(name)))
    file = ROOT / "profiles" / "meters" / f"{name}.yaml"
    with connected(instrument) as peer:
        command = [sys.executable, "-c", HOLDER, str(file), peer.port]
        with subprocess.Popen(command, stdout=subprocess.PIPE, cwd=ROOT) as holder:
            assert holder.stdout is not None
            with peer.serving():
                assert holder.stdout.readline() == b"SN-0001\n"
            asked = len(instrument.asked)
            with pytest.raises(MeterBusy, match="another process holds the port"):
                SerialMeter(instrument.dialect, peer.port)
            assert len(instrument.asked) == asked  # and the holder was not disturbed
            # The same meter under another port is the same meter.
            with (
                connected(Instrument(hasty(load(name)))) as other,
                pytest.raises(MeterBusy, match="INVENTED-1 SN-0001"),
            ):
                SerialMeter(instrument.dialect, other.port)
            holder.send_signal(signal.SIGKILL)
        meter = SerialMeter(instrument.dialect, peer.port)
        assert meter.read(ReadRequest("step", 1, 0.5), Deadline.after(3.0)).xyz is not None
        meter.close()


def test_a_port_that_is_none() -> None:
    with pytest.raises(MeterLost, match="there is no port /dev/none-such"):
        Wire("/dev/none-such", PortSettings(), line_end=b"\n", max_bytes=100)


def test_a_file_that_is_no_serial_port(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(MeterLost, match="is it a serial port"):
        Wire(str(tmp_path / "file"), PortSettings(), line_end=b"\n", max_bytes=100)


def test_bytes_are_shown_as_a_person_reads_them() -> None:
    assert shown(b"M500\r") == r"'M500\r'"
    assert shown(b"\xb5'\x00") == r"'\xb5'\x00'"


def test_no_descriptor_is_left_open_by_failed_openings() -> None:
    instrument = Instrument(hasty(load("terse-line")), model="A B")  # an identity that the dialect can't match
    with connected(instrument) as peer:
        before = len(os.listdir("/proc/self/fd"))
        for _ in range(3):
            with pytest.raises(MeterError):
                SerialMeter(instrument.dialect, peer.port)
        assert len(os.listdir("/proc/self/fd")) == before
