"""What every meter driver must do, whatever it talks to. A new driver is added as one more `Bench`."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import pytest

from benchd.clock import Deadline, real_now_s
from benchd.errors import (
    MeterBusy,
    MeterError,
    MeterGarbled,
    MeterHalfAnswer,
    MeterLost,
    MeterRefused,
    MeterSilent,
    MeterWrongUnit,
)
from benchd.instruments.command_meter import CommandMeter
from benchd.instruments.meter import Meter, MeterIdentity, Reading, ReadRequest, Status
from benchd.instruments.serial_meter import SerialMeter
from benchd.instruments.virtual_meters import ReplayMeter
from tests.instruments.line_time import LINE_TIME
from tests.instruments.scripted import Act, Instrument, Light, connected, hasty, load
from tests.measurements.outside.rehearsal_meter import driver as rehearsal

BRIDGE = Path(__file__).with_name("bridge.py")
WITHIN_S = 20.0
"""For an answer that is on its way: it is not waited for longer than it takes."""
SILENCE_S = 0.3
"""For an answer that does not come."""
TROUBLES: dict[str, type[MeterError]] = {
    "silent": MeterSilent,
    "half": MeterHalfAnswer,
    "garbage": MeterGarbled,
    "refuse": MeterRefused,
    "unit": MeterWrongUnit,
    "gone": MeterLost,
}


@dataclass
class Bench:
    """How one driver is brought to a meter that does what it is told."""

    name: str
    open: Callable[[ExitStack, list[Act]], Callable[[], Meter]]
    troubles: frozenset[str] = frozenset(TROUBLES)
    holds: bool = True

    def __str__(self) -> str:
        return self.name


def serial_bench(dialect_name: str) -> Bench:
    def opened(stack: ExitStack, acts: list[Act]) -> Callable[[], Meter]:
        instrument = Instrument(hasty(load(dialect_name)), acts)
        peer = stack.enter_context(connected(instrument))
        return lambda: SerialMeter(instrument.dialect, peer.port)

    tells_unit = "unit" in load(dialect_name).measure.expect
    return Bench(dialect_name, opened, frozenset(TROUBLES) - (frozenset() if tells_unit else {"unit"}))


def command_bench() -> Bench:
    def answer(act: Act) -> object:
        if isinstance(act, Light):
            return {**dict(zip("XYZ", act.xyz, strict=True)), "status": act.status}
        if act == "refuse":
            return {"error": "calibration expired"}
        if act == "unit":
            return {"X": 1.0, "Y": 1.0, "Z": 1.0, "unit": "fL"}
        return act

    def opened(stack: ExitStack, acts: list[Act]) -> Callable[[], Meter]:
        told = json.dumps([answer(act) for act in acts])
        return lambda: CommandMeter([sys.executable, str(BRIDGE), "INVENTED-1", "SN-0001", told])

    return Bench("command", opened)


def replay_bench() -> Bench:
    def opened(stack: ExitStack, acts: list[Act]) -> Callable[[], Meter]:
        identity = MeterIdentity("INVENTED-1", "SN-0001", "1", "command", "here", simulated=True)
        recorded = [Reading(act.xyz, Status(act.status), 0.5, "raw", 0.1) for act in acts if isinstance(act, Light)]
        return lambda: ReplayMeter(identity, {"step": recorded})

    return Bench("replay", opened, frozenset(), holds=False)


def package_bench() -> Bench:
    """The driver that tests/measurements/outside installs, with the options that a bench would have."""

    def opened(stack: ExitStack, acts: list[Act]) -> Callable[[], Meter]:
        others = [{"xyz": act.xyz, "status": act.status} for act in acts if isinstance(act, Light)]
        told = json.dumps({"model": "INVENTED-1", "serial_number": "SN-0001", "others": others})
        options = rehearsal.PART.options.model_validate_json(told)
        return lambda: rehearsal.PART.open(options, lambda: 0.0)

    return Bench("rehearsal", opened, frozenset(), holds=False)


BENCHES = [serial_bench("terse-line"), serial_bench("plain-488"), command_bench(), replay_bench(), package_bench()]


each_driver = pytest.mark.parametrize("bench", BENCHES, ids=str)


@pytest.fixture
def stack() -> Iterator[ExitStack]:
    with ExitStack() as opened:
        yield opened


def opened(bench: Bench, stack: ExitStack, *acts: Act) -> Meter:
    meter = bench.open(stack, list(acts))()
    stack.callback(meter.close)
    return meter


def reading(meter: Meter, number: int = 1, integration_s: float | None = 0.5, within_s: float = WITHIN_S) -> Reading:
    return meter.read(ReadRequest("step", number, integration_s), Deadline.after(within_s))


@each_driver
def test_a_meter_says_who_it_is_each_time(bench: Bench, stack: ExitStack) -> None:
    meter = opened(bench, stack, Light())
    identity = meter.identify()
    assert (identity.model, identity.serial_number) == ("INVENTED-1", "SN-0001")
    assert identity.driver.partition(":")[0] in ("serial", "command", "replay", "rehearsal")
    assert identity.address
    assert identity == meter.identify()


@each_driver
def test_readings_are_xyz_in_cd_m2(bench: Bench, stack: ExitStack) -> None:
    # The equal-energy and the D65 white (IEC 61966-2-1 for the latter) and a deep blue, bright and dark.
    lights = [Light((100.0, 100.0, 100.0)), Light((95.047, 100.0, 108.883)), Light((0.01805, 0.00722, 0.09503))]
    meter = opened(bench, stack, *lights)
    for number, light in enumerate(lights, 1):
        got = reading(meter, number)
        assert got.status is Status.OK
        assert got.xyz == pytest.approx(light.xyz, rel=2e-4)  # five digits of x and y, six of Y
        assert got.elapsed_s >= 0
        assert got.raw


@each_driver
def test_readings_come_in_the_order_of_the_questions(bench: Bench, stack: ExitStack) -> None:
    lights = [Light((float(n), float(n), float(n))) for n in range(1, 21)]
    meter = opened(bench, stack, *lights)
    got = [reading(meter, number).xyz for number in range(1, 21)]
    assert [round(xyz[1], 3) for xyz in got if xyz] == [float(n) for n in range(1, 21)]


@pytest.mark.parametrize("status", ["ok", "under", "over", "unstable"])
@each_driver
def test_a_status_is_data_and_no_error(bench: Bench, stack: ExitStack, status: str) -> None:
    meter = opened(bench, stack, Light(status=status))
    assert reading(meter).status is Status(status)


@each_driver
def test_the_integration_time_is_passed_on(bench: Bench, stack: ExitStack) -> None:
    meter = opened(bench, stack, Light())
    assert reading(meter, integration_s=0.5).integration_s == 0.5


@each_driver
def test_the_meter_may_choose_its_integration_time(bench: Bench, stack: ExitStack) -> None:
    meter = opened(bench, stack, Light())
    assert reading(meter, integration_s=None).xyz is not None


@each_driver
def test_closing_twice_is_no_error_and_a_closed_meter_can_be_opened_again(bench: Bench, stack: ExitStack) -> None:
    reopen = bench.open(stack, [Light()])
    for _ in range(3):
        meter = reopen()
        assert reading(meter).status is Status.OK
        meter.close()
        meter.close()


@pytest.mark.parametrize("bench", [bench for bench in BENCHES if bench.holds], ids=str)  # many may read a recording
def test_one_meter_has_one_holder(bench: Bench, stack: ExitStack) -> None:
    reopen = bench.open(stack, [Light()])
    first = reopen()
    stack.callback(first.close)
    with pytest.raises(MeterBusy, match=r"another process holds|is held by another process"):
        reopen()
    assert reading(first).status is Status.OK
    first.close()
    second = reopen()
    stack.callback(second.close)
    assert reading(second).status is Status.OK


# Not every driver has every trouble: one whose answers carry no unit can't tell a wrong one, a recording has none.
@pytest.mark.parametrize(
    ("bench", "trouble"), [(bench, trouble) for bench in BENCHES for trouble in sorted(bench.troubles)], ids=str
)
def test_troubles_are_told_apart_and_the_next_reading_is_right(bench: Bench, stack: ExitStack, trouble: str) -> None:
    meter = opened(bench, stack, Light((1.0, 1.0, 1.0)), trouble, Light((3.0, 3.0, 3.0)))
    assert reading(meter, 1).xyz == pytest.approx((1.0, 1.0, 1.0), rel=1e-3)
    with pytest.raises(TROUBLES[trouble]) as raised:
        reading(meter, 2, within_s=SILENCE_S if trouble in ("silent", "half") else WITHIN_S)
    assert type(raised.value) is TROUBLES[trouble]
    assert "Traceback" not in str(raised.value)
    assert len(str(raised.value)) > 30
    if trouble == "gone":
        with pytest.raises(MeterLost):
            reading(meter, 3)
    elif bench.name == "command" and trouble == "half":
        # What was begun and what follows make one line: an error once, and never a reading.
        with pytest.raises(MeterGarbled):
            reading(meter, 3)
        assert reading(meter, 4).xyz == pytest.approx((3.0, 3.0, 3.0), rel=1e-3)
    else:
        assert reading(meter, 3).xyz == pytest.approx((3.0, 3.0, 3.0), rel=1e-3)


@pytest.mark.parametrize("bench", [bench for bench in BENCHES if "silent" in bench.troubles], ids=str)
def test_a_deadline_is_never_exceeded(bench: Bench, stack: ExitStack) -> None:
    meter = opened(bench, stack, "silent")
    # A child has its own time, and takes it; without a deadline it would be waited for without end.
    late_s = 0.0 if LINE_TIME.peers else 30.0
    for within_s in (0.0, 0.05, 0.2):
        started_s = real_now_s()
        with pytest.raises(MeterError):
            reading(meter, within_s=within_s)
        assert real_now_s() <= started_s + within_s + late_s
