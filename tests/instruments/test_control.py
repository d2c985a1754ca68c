"""Controls by name: over the display's channel, by a command, by hand; read back, restored, refused."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.clock import Deadline, StopRequest, VirtualClock
from benchd.errors import (
    ControlAbsent,
    ControlError,
    ControlGarbled,
    ControlMismatch,
    ControlRefused,
    ControlSilent,
    OperatorNeeded,
)
from benchd.instruments.control import Control, SetOutcome, set_and_confirm
from benchd.instruments.open_controls import OpenControls, open_controls
from benchd.profile.display import ControlPart, DdcPart
from tests.imports import loaded_with
from tests.instruments.ddc_peer import SimulatedDisplay

PARTS = {
    "brightness": ControlPart(ddc=16, low=10, high=90, settle_s=1.5),
    "preset": ControlPart(ddc=20, values={"standard": 5, "warm": 4, "user": 11}),
    "volume": ControlPart(ddc=98),
}


def soon() -> Deadline:
    return Deadline.after(60.0)


def nobody(sentence: str) -> None:
    raise AssertionError(f"nobody should be asked: {sentence}")


def controls_of(display: SimulatedDisplay, ask: Callable[[str], None] = nobody, **parts: ControlPart) -> OpenControls:
    return open_controls({**PARTS, **parts}, DdcPart(bus=str(display.path)), display.clock, ask=ask)


@pytest.fixture
def display(tmp_path: Path) -> Iterator[SimulatedDisplay]:
    with SimulatedDisplay(tmp_path / "ddc") as channel:
        yield channel


def test_set_and_read_back(display: SimulatedDisplay) -> None:
    controls = controls_of(display)
    assert controls["brightness"].read(soon()) == 100
    outcome = controls["brightness"].set(30, soon())
    assert (outcome.asked, outcome.read_back, outcome.by) == (30, 30, "ddc")
    assert 0.0 < outcome.elapsed_s < 1.0
    assert display.scene.settings.brightness == 30
    assert controls["brightness"].settle_s == 1.5
    assert controls["preset"].set("warm", soon()).read_back == "warm"
    assert display.scene.settings.preset == "warm"
    controls.close()


@settings(max_examples=60, derandomize=True, deadline=None)
@given(value=st.one_of(st.integers(-200, 200), st.sampled_from(["warm", "", "50"]), st.floats(0, 100)))
def test_nothing_outside_the_profile_is_ever_sent(
    tmp_path_factory: pytest.TempPathFactory, value: int | float | str
) -> None:
    with SimulatedDisplay(tmp_path_factory.mktemp("ddc") / "ddc") as display:
        controls = controls_of(display)
        if isinstance(value, int) and 10 <= value <= 90:
            controls["brightness"].set(value, soon())
            assert display.scene.settings.brightness == value
        else:
            with pytest.raises(ControlRefused, match="10 to 90"):
                controls["brightness"].set(value, soon())
            assert display.heard == []
        controls.close()


def test_what_was_found_is_put_back_though_no_plan_may_ask_for_it(display: SimulatedDisplay) -> None:
    display.scene.set(display.scene.settings.but("preset=cool"))
    controls = controls_of(display)
    found = {name: controls[name].read(soon()) for name in ("brightness", "preset")}
    assert found == {"brightness": 100, "preset": 8}  # beyond 'high', and a preset that the bench has no name for
    for name, value in (("brightness", 20), ("preset", "user")):
        controls[name].set(value, soon())
    for name, original in found.items():
        assert original is not None
        controls[name].set(original, soon(), restoring=True)
    assert (display.scene.settings.brightness, display.scene.settings.preset) == (100, "cool")
    controls.close()


def test_the_display_knows_its_own_range(display: SimulatedDisplay) -> None:
    controls = controls_of(display, wide=ControlPart(ddc=18))
    with pytest.raises(ControlRefused, match="the display has 0 to 100"):
        controls["wide"].set(101, soon())
    controls.close()


@pytest.mark.parametrize(
    ("fault", "error"),
    [
        ("set:1-99:lie", ControlMismatch),
        ("set:1-99:silent", ControlMismatch),  # nothing was set, and what it reads back is what it was
        ("ddc:1-99:silent", ControlSilent),
        ("ddc:1-99:garbled", ControlGarbled),
        ("ddc:2-99:refuse", ControlRefused),
        ("set:1-99:slow:60", ControlMismatch),
    ],
)
def test_faults_that_stay_have_a_name(tmp_path: Path, fault: str, error: type[ControlError]) -> None:
    with SimulatedDisplay(tmp_path / "ddc", fault) as display:
        controls = controls_of(display)
        with pytest.raises(error) as caught:
            controls["brightness"].set(50, soon())
        assert len(str(caught.value)) > 40
        controls.close()


@pytest.mark.parametrize(
    "fault",
    ["set:1:lie", "set:1:silent", "ddc:1:silent", "ddc:4:garbled", "ddc:3:lie", "set:1:slow:2", "ddc:2-4:silent"],
)
def test_faults_that_pass_are_lived_through(tmp_path: Path, fault: str) -> None:
    with SimulatedDisplay(tmp_path / "ddc", fault) as display:
        controls = controls_of(display)
        assert controls["brightness"].set(50, soon()).read_back == 50
        assert display.scene.settings.brightness == 50
        controls.close()


def test_a_display_that_dims_itself_is_seen(tmp_path: Path) -> None:
    with SimulatedDisplay(tmp_path / "ddc", "at:600:reset:brightness=40") as display:
        controls = controls_of(display)
        controls["brightness"].set(80, soon())
        display.scene.advance(500.0)
        assert controls["brightness"].read(soon()) == 80
        display.scene.advance(101.0)
        assert controls["brightness"].read(soon()) == 40
        controls.close()


def test_names_and_descriptions(display: SimulatedDisplay) -> None:
    controls = controls_of(display)
    assert list(controls) == ["brightness", "preset", "volume"]
    told = {answer.name: answer for answer in controls.describe()}
    assert "PLOVER-27-INVENTED" in told["ddc"].text
    assert told["brightness"].text == "is 100 (VCP code 16, 0 to 100)"
    assert told["preset"].text == "is standard (VCP code 20, one of standard, warm, user)"
    assert not told["volume"].ok
    assert "no VCP code 98" in told["volume"].text
    controls.close()


def test_nothing_is_asked_before_it_is_needed(tmp_path: Path) -> None:
    controls = open_controls(PARTS, DdcPart(bus=str(tmp_path / "nobody-there")), VirtualClock())
    assert len(controls) == 3
    controls.close()
    with pytest.raises(ControlAbsent):
        controls["brightness"].read(soon())


def test_a_light_import() -> None:
    assert "monitorcontrol" not in loaded_with("benchd.instruments.open_controls")


# by a command

TOOL = """
import pathlib, sys
state = pathlib.Path(sys.argv[1])
if sys.argv[2] == "--get":
    print(state.read_text() if state.exists() else "60")
elif sys.argv[2] == "bad":
    sys.exit("no such mode")
else:
    state.write_text(sys.argv[2])
"""


def command_part(tmp_path: Path, *, read: bool = True, tool: str = TOOL, **more: object) -> ControlPart:
    (tmp_path / "tool.py").write_text(tool)
    words = ("python", str(tmp_path / "tool.py"), str(tmp_path / "state"))
    keys: dict[str, object] = {"command": (*words, "{value}"), **more}
    if read:
        keys["read"] = (*words, "--get")
    return ControlPart(**keys)  # type: ignore[arg-type]


def only(part: ControlPart, ask: Callable[[str], None] = nobody) -> Control:
    return open_controls({"refresh": part}, None, VirtualClock(), ask=ask)["refresh"]


def test_a_command_sets_and_reads(tmp_path: Path) -> None:
    control = only(command_part(tmp_path))
    assert control.read(soon()) == 60
    assert control.set(120, soon()).read_back == 120
    assert control.set(59.94, soon()).read_back == 59.94
    assert control.read(soon()) == 59.94
    assert "is 59.94; set by 'python" in control.describe(soon())


def test_a_command_with_names(tmp_path: Path) -> None:
    control = only(command_part(tmp_path, values={"low": "mode-1", "high": 2}))
    assert control.read(soon()) == 60  # what it was before, for which there is no name
    for name, token in (("low", "mode-1"), ("high", "2")):
        assert control.set(name, soon()).read_back == name
        assert (tmp_path / "state").read_text() == token
    assert control.set(60, soon(), restoring=True).read_back == 60
    with pytest.raises(ControlRefused, match="one of low, high"):
        control.set("middle", soon())


def test_a_command_without_a_reading_one(tmp_path: Path) -> None:
    control = only(command_part(tmp_path, read=False))
    assert control.read(soon()) is None
    assert control.set(120, soon()).read_back is None
    assert (tmp_path / "state").read_text() == "120"


@pytest.mark.parametrize(
    ("tool", "error", "says"),
    [
        ("import sys; sys.exit('no such mode')", ControlRefused, "its output: no such mode"),
        ("print('a\\nb')", ControlGarbled, "one line"),
        ("import time; time.sleep(60)", ControlSilent, "did not end in time"),
        ("print(7)", ControlMismatch, "reads back 7"),
        ("import time; print(time.monotonic_ns())", ControlGarbled, "another value each time"),
    ],
)
def test_a_command_that_fails(tmp_path: Path, tool: str, error: type[ControlError], says: str) -> None:
    control = only(command_part(tmp_path, tool=tool, within_s=0.2))  # of bench time, for trying again
    with pytest.raises(error, match=says):
        control.set(50, Deadline.after(0.5) if error is ControlSilent else soon())


def test_no_such_command() -> None:
    with pytest.raises(ControlAbsent, match="can't be started"):
        only(ControlPart(command=("./nowhere", "{value}"))).set(50, soon())


# by hand

DIMMING = ControlPart(prompt="Set local dimming to {value} in the display's menu", values={"off": 0, "high": 2})


def test_a_person_is_asked() -> None:
    asked: list[str] = []
    control = only(DIMMING, asked.append)
    assert control.read(soon()) is None
    assert control.set("high", soon()) == SetOutcome("high", None, 0.0, "operator")
    assert asked == ["Set local dimming to high in the display's menu"]
    assert control.describe(soon()) == "set manually to one of off, high"


def test_nobody_is_there() -> None:
    control = open_controls({"dimming": DIMMING}, None, VirtualClock())["dimming"]
    with pytest.raises(OperatorNeeded, match=r"Set local dimming to off .*; this run can't prompt"):
        control.set("off", soon())


def test_a_hand_does_what_the_display_refuses(display: SimulatedDisplay) -> None:
    asked: list[str] = []
    part = ControlPart(ddc=98, prompt="Set the volume to {value}")
    control = controls_of(display, asked.append, loud=part)["loud"]
    outcome = control.set(5, soon())
    assert (outcome.by, outcome.read_back) == ("operator", None)
    assert "no VCP code 98" in outcome.why
    assert asked == ["Set the volume to 5"]
    assert control.read(soon()) is None  # the hand has the last word
    unattended = open_controls({"loud": part}, DdcPart(bus=str(display.path)), display.clock)["loud"]
    with pytest.raises(ControlRefused, match="no VCP code 98"):
        unattended.set(5, soon())


# the law of read-back


@settings(max_examples=200, derandomize=True, deadline=None)
@given(
    answers=st.lists(st.one_of(st.integers(0, 3), st.sampled_from([ControlSilent, ControlGarbled])), max_size=40),
    wanted=st.integers(0, 3),
)
def test_only_what_reads_back_counts(answers: list[int | type[ControlError]], wanted: int) -> None:
    """Whatever a control answers: the outcome is the value that was asked for, or an error."""
    clock, left = VirtualClock(), list(answers)
    written = 0

    def write() -> None:
        nonlocal written
        written += 1

    def read() -> int:
        clock.sleep(0.2, StopRequest())
        answer = left.pop(0) if left else ControlSilent
        if isinstance(answer, int):
            return answer
        raise answer("told to")

    try:
        found, elapsed_s = set_and_confirm(
            "x", wanted, write, read, within_s=5.0, clock=clock, deadline=Deadline.after(60.0)
        )
    except (ControlMismatch, ControlSilent, ControlGarbled):
        used = answers[: len(answers) - len(left)]
        assert wanted not in used
        assert clock.now_s() >= 5.0 - 0.3
        assert written == 3
    else:
        assert found == wanted
        assert elapsed_s == clock.now_s()
