"""Child processes: the meter's bridge, the mover, and the recording that needs none."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

import pytest

from benchd.clock import Deadline
from benchd.errors import MeterError, MeterGarbled, MeterLost, MeterRefused, MeterSilent, MoveFailed, WrongMeter
from benchd.instruments import child as child_module
from benchd.instruments.child import Child, ChildFailed, ChildTrouble
from benchd.instruments.command_meter import CommandMeter
from benchd.instruments.hold import Hold
from benchd.instruments.meter import MeterIdentity, Reading, ReadRequest, Status
from benchd.instruments.positioner import CommandPositioner
from benchd.instruments.virtual_meters import ReplayMeter

BRIDGE = str(Path(__file__).with_name("bridge.py"))
METERS = Path(__file__).parents[2] / "profiles" / "meters"
WHITE = {"X": 95.047, "Y": 100.0, "Z": 108.883, "status": "ok"}


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Children that don't end by themselves are killed sooner."""
    monkeypatch.setattr(child_module, "_END_WITHIN_S", 0.2)


def bridged(*acts: object) -> CommandMeter:
    return CommandMeter([sys.executable, BRIDGE, "INVENTED-1", "SN-1", json.dumps(acts)])


def read(meter: CommandMeter, within_s: float = 20.0) -> Reading:
    return meter.read(ReadRequest("step", 1, 0.5), Deadline.after(within_s))


@pytest.mark.parametrize("command", [["python", "example-bridge.py"], ["sh", "example-bridge.sh"]], ids=str)
def test_the_shipped_bridges_in_two_languages(command: list[str]) -> None:
    meter = CommandMeter([command[0], str(METERS / command[1])])
    assert meter.identify().simulated
    got = read(meter)
    assert got.xyz == (95.047, 100.0, 108.883)
    assert got.integration_s == 0.5
    assert meter.read(ReadRequest("step", 2, None), Deadline.after(20.0)).integration_s is None
    meter.close()


@pytest.mark.parametrize("name", ["example-bridge.py", "example-bridge.sh"])
def test_a_bridge_is_short(name: str) -> None:
    lines = (METERS / name).read_text().splitlines()
    assert len([line for line in lines if line.strip() and not line.lstrip().startswith(("#", '"""'))]) <= 13


def test_a_late_answer_is_known_by_its_number() -> None:
    meter = bridged("late", WHITE)
    with pytest.raises(MeterSilent, match="did not answer"):
        read(meter, 0.3)
    assert read(meter).xyz == (95.047, 100.0, 108.883)
    meter.close()


@pytest.mark.parametrize(
    ("act", "sentence"),
    [
        ("garbage", "no JSON object"),
        ("nan", "no JSON object"),
        ("other id", "'id' should be"),
        ("long", "without a line end|no JSON object"),
        ({"X": 1.0, "Y": 1.0}, "Z is missing"),
        ({"X": 1.0, "Y": "1.0", "Z": 1.0}, "'Y' must be a number"),
        ({"X": 1.0, "Y": True, "Z": 1.0}, "'Y' must be a number"),
        ({"X": 1.0, "Y": -5.0, "Z": 1.0}, "no light can be that"),
        ({"X": 1.0, "Y": 1.0, "Z": 1.0, "status": "fine"}, "'status' must be one of"),
    ],
    ids=str,
)
@pytest.mark.usefixtures("impatient")
def test_answers_that_are_none(act: object, sentence: str) -> None:
    meter = bridged(act)
    with pytest.raises(MeterGarbled, match=sentence):
        read(meter)
    meter.close()


def test_an_over_range_without_figures() -> None:
    meter = bridged({"X": None, "Y": None, "Z": None, "status": "over"})
    assert read(meter).xyz is None
    assert read(meter).status is Status.OVER
    meter.close()


def test_a_bridge_that_ends_tells_its_last_words() -> None:
    meter = bridged("gone")
    with pytest.raises(MeterLost, match="ended with exit status 3; its output: the kit lost the meter"):
        read(meter)
    with pytest.raises(MeterLost):
        read(meter)
    meter.close()


def test_a_bridge_that_talks_much_on_stderr_is_not_blocked() -> None:
    meter = bridged("talks")
    for _ in range(3):
        assert read(meter).xyz == (1.0, 1.0, 1.0)
    meter.close()


@pytest.mark.usefixtures("impatient")
def test_a_bridge_that_hangs_is_killed() -> None:
    meter = bridged("stays")
    with pytest.raises(MeterSilent):
        read(meter, 0.2)
    child = meter._child._child.process.pid
    meter.close()
    with pytest.raises(ProcessLookupError):
        os.kill(child, 0)


@pytest.mark.parametrize("command", [["/none/such"], [sys.executable, "-c", "pass"]], ids=["no file", "ends at once"])
def test_a_command_that_is_no_bridge(command: list[str]) -> None:
    with pytest.raises(MeterLost):
        CommandMeter(command)


def test_another_meter_behind_the_bridge() -> None:
    program = (
        "import json, sys\n"
        "for n, line in enumerate(sys.stdin):\n"
        "    i = json.loads(line)['id']\n"
        "    print(json.dumps({'id': i, 'model': 'A', 'serial_number': str(n), 'firmware': '1'}), flush=True)\n"
    )
    meter = CommandMeter([sys.executable, "-c", program])
    with pytest.raises(WrongMeter, match="meter A 1 answers"):
        meter.identify()
    meter.close()


def test_the_specified_range_is_handed_on() -> None:
    meter = CommandMeter(["sh", str(METERS / "example-bridge.sh")], floor_cd_m2=0.005, ceiling_cd_m2=3000.0)
    assert (meter.identify().floor_cd_m2, meter.identify().ceiling_cd_m2) == (0.005, 3000.0)
    meter.close()


@pytest.mark.usefixtures("impatient")
def test_a_question_that_the_child_does_not_take() -> None:
    child = Child([sys.executable, "-c", "import time; time.sleep(60)"])
    with pytest.raises(ChildFailed, match="does not take a question") as raised:
        child.ask("op", {"filler": "x" * 300_000}, Deadline.after(0.3))
    assert raised.value.trouble is ChildTrouble.SILENT
    child.close()


MOVER = """
import json, sys
for line in sys.stdin:
    q = json.loads(line)
    if q["x"] > 1: sys.exit(4)
    there = q["place"] != "r9c9"
    print(json.dumps({"seq": q["seq"], "ok": there, "text": "end of travel"}), flush=True)
"""


def test_a_mover() -> None:
    mover = CommandPositioner([sys.executable, "-c", MOVER])
    mover.move("r1c1", (0.1, 0.9), Deadline.after(20.0))
    with pytest.raises(MoveFailed, match="did not reach r9c9: end of travel"):
        mover.move("r9c9", (0.1, 0.9), Deadline.after(20.0))
    with pytest.raises(MoveFailed, match="ended with exit status 4"):
        mover.move("r1c2", (2.0, 0.9), Deadline.after(20.0))
    mover.move("r1c3", (0.2, 0.9), Deadline.after(20.0))  # a fresh child
    mover.close()
    mover.close()


def test_a_mover_that_hangs() -> None:
    mover = CommandPositioner([sys.executable, "-c", "import sys; sys.stdin.read()"])
    with pytest.raises(MoveFailed, match="did not answer"):
        mover.move("r1c1", (0.1, 0.9), Deadline.after(0.3))
    mover.close()


IDENTITY = MeterIdentity("INVENTED-1", "SN-1", "1", "serial:terse-line", "/dev/x", simulated=True)


def test_a_recording_gives_the_same_objects_back() -> None:
    first, second = (Reading((1.0, n, 1.0), Status.OK, 0.5, "raw", 0.1) for n in (1.0, 2.0))
    meter = ReplayMeter(IDENTITY, {"a": [first], "b": [first, second]})
    assert meter.read(ReadRequest("b", 2), Deadline.after(0)) is second
    assert meter.read(ReadRequest("a", 1), Deadline.after(0)) is first
    assert meter.identify().driver == "replay"
    assert meter.identify().same_meter(IDENTITY)
    assert meter.identify().simulated


@pytest.mark.parametrize(("step", "number"), [("a", 2), ("a", 0), ("c", 1)])
def test_a_reading_that_was_not_recorded(step: str, number: int) -> None:
    meter = ReplayMeter(IDENTITY, {"a": [Reading((1.0, 1.0, 1.0), Status.OK, 0.5, "raw", 0.1)]})
    with pytest.raises(MeterRefused, match=f"of step {step}, and number {number} was requested"):
        meter.read(ReadRequest(step, number), Deadline.after(0))


def test_a_hold_is_of_one_meter_only_and_names_its_holder() -> None:
    first = Hold("A", "1")
    Hold("A", "2").release()
    Hold("B", "1").release()
    with pytest.raises(MeterError, match=f"A 1 is held by another process \\(process {os.getpid()}\\)"):
        Hold("A", "1")
    first.release()
    first.release()
    Hold("A", "1").release()


def test_a_folder_of_somebody_else_is_not_used(tmp_path: Path) -> None:
    (tmp_path / f"benchd-{os.getuid()}").symlink_to(tmp_path)
    with pytest.raises(MeterError, match="does not belong to this user"):
        Hold("A", "1")


def test_a_missing_runtime_folder_is_told_in_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / "none"))
    with pytest.raises(MeterError, match="can't be locked in"):
        Hold("A", "1")
