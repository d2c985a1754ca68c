"""The faults of the campaign, each with how it must end when it comes alone."""

from __future__ import annotations

import os
import shutil
import signal
import time
from contextlib import suppress

from tests.campaign.case import Case, Fault
from tests.patch.x_client import XClient

METER = (
    Fault(
        "meter-late",
        "a reading is answered too late",
        "goes on",
        ("MeterLateAnswer",),
        planned="reading:{n}:late:1.6",
        passing=True,
        venues=("virtual",),
    ),
    Fault("meter-half", "half an answer", "goes on", ("MeterHalfAnswer",), planned="reading:{n}:half", passing=True),
    Fault(
        "meter-garbled", "a garbled answer", "goes on", ("MeterGarbled",), planned="reading:{n}:garbled", passing=True
    ),
    Fault(
        "meter-duplicate",
        "two answers in a row come twice",
        "goes on",
        ("MeterLateAnswer",),
        planned="reading:{n}-{n1}:duplicate",
        passing=True,
    ),
    Fault(
        "meter-wrong-unit",
        "the meter's unit is changed at its key",
        "goes on",
        ("MeterWrongUnit",),
        planned="reading:{n}:wrong_unit",
        passing=True,
    ),
    Fault(
        "meter-silent",
        "one reading gets no answer",
        "goes on",
        ("MeterSilent",),
        planned="reading:{n}:silent",
        passing=True,
    ),
    Fault("meter-dead", "no reading gets an answer", "pauses", ("MeterSilent",), planned="reading:{n}-9999:silent"),
    Fault(
        "meter-stuck", "the meter hangs: nothing is answered", "pauses", ("MeterSilent",), planned="reading:{n}:stuck"
    ),
    Fault(
        "meter-error",
        "one error code",
        "goes on",
        ("MeterRefused",),
        planned="reading:{n}:error:E7",
        passing=True,
    ),
    Fault(
        "meter-warming-up",
        "an error code for the first two readings, then well",
        "goes on",
        ("MeterRefused",),
        planned="reading:1-2:error:E7",
        passing=True,
    ),
    Fault(
        "meter-error-stays",
        "an error code from now on",
        "pauses",
        ("MeterRefused",),
        planned="reading:{n}-9999:error:E2",
    ),
    Fault(
        "meter-frozen",
        "every reading repeats the one before",
        "pauses",
        ("LightChanged", "Implausible"),
        begin=lambda case: case.ask(op="fault", fault="reading:1-9999:frozen"),
        outlasts="reading:2-9999:frozen",
    ),
    Fault(
        "meter-replugged",
        "the cable is pulled; the port is back under another name after a second",
        "goes on",
        ("MeterLost",),
        planned="reading:{n}:unplug:1",
        passing=True,
    ),
    Fault(
        "meter-unplugged", "the cable is pulled for good", "pauses", ("MeterLost",), planned="reading:{n}:unplug:900"
    ),
    Fault(
        "wrong-meter",
        "another meter is plugged in instead",
        "pauses",
        ("WrongMeter",),
        planned="reading:{n}:unplug:1\nidentify:4-99:wrong_meter",
    ),
    Fault(
        "under-range",
        "one reading without light",
        "goes on",
        ("Implausible", "LightChanged"),
        planned="reading:{n}:under",
        passing=True,
    ),
    Fault(
        "over-range",
        "one reading of too much light",
        "goes on",
        ("Implausible",),
        planned="reading:{n}:over",
        passing=True,
    ),
)

ROOM = (
    Fault(
        "lamp-on",
        "a lamp in the room adds 2 cd/m2 from now on",
        "pauses",
        ("LightChanged", "Implausible"),
        begin=lambda case: case.ask(op="fault", fault="at:0:lamp:2"),
        outlasts="at:0:lamp:2",
        earliest=(6, 5),
    ),
    Fault(
        "meter-aside",
        "the meter is knocked off the screen and sees the room",
        "pauses",
        ("LightChanged", "Implausible"),
        begin=lambda case: case.ask(op="fault", fault="at:0:aside:12"),
        outlasts="at:0:aside:12",
    ),
    Fault(
        "display-asleep",
        "the display switches its light off, the computer knows nothing",
        "pauses",
        ("LightChanged", "Implausible"),
        begin=lambda case: case.ask(op="fault", fault="at:0:asleep"),
        outlasts="at:0:asleep",
    ),
)

CONTROL = (
    Fault(
        "control-silent", "one message to the display is not answered", "goes on", planned="set:2:silent", passing=True
    ),
    Fault(
        "control-dead",
        "nothing on the control channel is answered",
        "pauses",
        ("ControlSilent",),
        planned="ddc:{n}-9999:silent",
    ),
    Fault("control-refused", "the display refuses a value", "pauses", ("ControlRefused",), planned="ddc:3-9999:refuse"),
    Fault("control-lies", "one setting is not taken", "goes on", planned="set:2:lie", passing=True),
    Fault("control-lies-always", "no setting is taken", "pauses", ("ControlMismatch",), planned="set:2-9999:lie"),
    Fault("control-garbled", "one damaged answer", "goes on", planned="ddc:5:garbled", passing=True),
    Fault(
        "control-reset",
        "the display dims itself once",
        "goes on",
        ("ControlMismatch", "LightChanged", "Implausible"),
        planned="at:{t}:reset:brightness=30",
        passing=True,
    ),
    Fault(
        "control-reset-again",
        "the display dims itself again and again",
        "pauses",
        ("ControlMismatch", "LightChanged", "Implausible"),
        planned="\n".join(f"at:{8 + 0.4 * index:g}:reset:brightness=30" for index in range(400)),
    ),
)


def _cover(case: Case) -> None:
    assert case.server is not None
    case.notes["client"] = client = XClient(case.server.name)
    case.notes["cover"] = client.cover(100, 60, 400, 240, "white")


def _uncover(case: Case) -> None:
    with suppress(KeyError):
        client = case.notes.pop("client")
        client.uncover(case.notes.pop("cover"))
        client.close()


def _place(case: Case, x: int, y: int, width: int, height: int) -> None:
    assert case.server is not None
    client = XClient(case.server.name)
    windows = client.windows()
    if windows:
        client.place(windows[-1], x, y, width, height)
    client.close()


def _kill_server(case: Case) -> None:
    assert case.server is not None
    case.server.kill()


def _freeze_server(case: Case) -> None:
    assert case.server is not None
    case.server.freeze()


def _thaw_server(case: Case) -> None:
    assert case.server is not None
    case.server.thaw()


def _output(case: Case, *words: str) -> None:
    assert case.server is not None
    case.server.run("xrandr", "--output", "DUMMY0", *words)


WINDOW_WORDS = "benchd.patch.window"
SCREEN = (
    Fault(
        "window-killed",
        "SIGKILL of the window",
        "goes on",
        ("ScreenLost",),
        begin=lambda case: case.signal(WINDOW_WORDS if case.venue == "window" else "sim.window", signal.SIGKILL),
    ),
    Fault(
        "window-frozen",
        "SIGSTOP of the window",
        "goes on",
        ("ScreenLost",),
        begin=lambda case: case.signal(WINDOW_WORDS if case.venue == "window" else "sim.window", signal.SIGSTOP),
    ),
    Fault(
        "window-covered-briefly",
        "another window over the patch for a second",
        "goes on",
        ("ScreenDisturbed", "PixelMismatch"),
        begin=_cover,
        end=_uncover,
        lasts_s=1.0,
        venues=("window",),
    ),
    Fault(
        "window-covered",
        "another window over the patch that stays",
        "pauses",
        ("ScreenDisturbed", "PixelMismatch"),
        begin=_cover,
        end=_uncover,
        venues=("window",),
    ),
    Fault(
        "window-moved",
        "the window is moved",
        "either",
        ("ScreenDisturbed", "PixelMismatch", "WrongScreen"),
        begin=lambda case: _place(case, 90, 50, 640, 360),
        venues=("window",),
    ),
    Fault(
        "window-resized",
        "the window is made smaller",
        "either",
        ("ScreenDisturbed", "PixelMismatch", "WrongScreen"),
        begin=lambda case: _place(case, 0, 0, 320, 200),
        venues=("window",),
    ),
    Fault(
        "x-gone",
        "the display server is killed",
        "pauses",
        ("ScreenLost",),
        begin=_kill_server,
        end=lambda case: case.new_server(),
        venues=("window",),
    ),
    Fault(
        "x-frozen-briefly",
        "the display server hangs for two seconds",
        "either",
        begin=_freeze_server,
        end=_thaw_server,
        lasts_s=2.0,
        venues=("window",),
    ),
    Fault(
        "x-frozen",
        "the display server hangs",
        "pauses",
        ("ScreenLost", "MeterSilent", "ControlSilent", "ControlAbsent"),
        begin=_freeze_server,
        end=_thaw_server,
        venues=("window",),
    ),
    Fault(
        "resolution-changed",
        "another resolution is set",
        "pauses",
        ("WrongScreen", "ScreenDisturbed"),
        begin=lambda case: _output(case, "--mode", "800x600"),
        end=lambda case: _output(case, "--mode", "1024x768"),
        venues=("window",),
        server="two",
    ),
    Fault(
        "output-off",
        "the output is switched off",
        "pauses",
        ("WrongScreen", "ScreenDisturbed", "ScreenLost", "PixelMismatch"),
        begin=lambda case: _output(case, "--off"),
        end=lambda case: _output(case, "--mode", "1024x768", "--pos", "0x0", "--primary"),
        venues=("window",),
        server="two",
    ),
    Fault(
        "gamma-ramp",
        "a night light bends the gamma ramp",
        "pauses",
        ("ScreenDisturbed",),
        begin=lambda case: _output(case, "--gamma", "1:1:0.7"),
        end=lambda case: _output(case, "--gamma", "1:1:1"),
        venues=("window",),
        server="two",
    ),
)


def _fill(case: Case) -> None:
    assert case.process is not None
    with suppress(OSError):  # it may have ended this moment
        case.disk.fill(case.process.pid, case.log)


def _step_clock(case: Case, seconds: float) -> None:
    (case.folder / "site" / "clock-offset.txt").write_text(str(seconds))


def _own(case: Case, number: signal.Signals) -> None:
    assert case.process is not None
    with suppress(OSError):
        os.kill(case.process.pid, number)


def _stop_a_while(case: Case) -> None:
    _own(case, signal.SIGSTOP)
    time.sleep(3.0)
    _own(case, signal.SIGCONT)


DAY_S = 86400.0
SYSTEM = (
    Fault(
        "disk-full",
        "no space is left for the log",
        "pauses",
        begin=_fill,
        end=lambda c: c.disk.make_room(),
        disk="small",
    ),
    Fault("disk-quota", "the log may not grow any more (RLIMIT_FSIZE)", "pauses", begin=_fill),
    Fault(
        "log-folder-removed",
        "the folder of the log is removed",
        "pauses",
        begin=lambda case: shutil.rmtree(case.log.parent, ignore_errors=True),
    ),
    Fault(
        "disk-read-only",
        "the file system turns read-only on an error (ext4 on a loop device)",
        "pauses",
        begin=lambda case: case.disk.fail(),
        end=lambda case: case.disk.repair(),
        disk="failing",
    ),
    Fault(
        "clock-forward",
        "the wall clock is stepped a day forward (inside the processes)",
        "goes on",
        begin=lambda case: _step_clock(case, DAY_S),
    ),
    Fault(
        "clock-back",
        "the wall clock is stepped a day back (inside the processes)",
        "goes on",
        begin=lambda case: _step_clock(case, -DAY_S),
    ),
    Fault("benchd-killed", "SIGKILL of benchd", "pauses", begin=lambda case: _own(case, signal.SIGKILL)),
    Fault("benchd-stopped", "SIGSTOP of benchd, SIGCONT after three seconds", "goes on", begin=_stop_a_while),
    Fault("benchd-terminated", "SIGTERM of benchd", "pauses", begin=lambda case: _own(case, signal.SIGTERM)),
    Fault(
        "companion-killed",
        "SIGKILL of the companion that is meter, display and (virtual) clock",
        "pauses",
        ("MeterLost", "CompanionLost", "ScreenLost", "ControlAbsent", "ControlSilent", "MoveFailed"),
        begin=lambda case: case.signal("companion.py", signal.SIGKILL),
    ),
    Fault(
        "mover-killed",
        "SIGKILL of the mover",
        "goes on",
        begin=lambda case: case.signal("sim.mover", signal.SIGKILL),
        venues=("virtual",),
        at=(17, 0),
    ),
)

FAULTS = (*METER, *ROOM, *CONTROL, *SCREEN, *SYSTEM)
BY_NAME = {fault.name: fault for fault in FAULTS}

UNSEEN = (
    "a light that was on before the first dark patch was read: it is part of what was measured",
    "a light that comes between two reference checks and goes before the second; also one that is put right while the "
    "run is paused for another reason",
    "a light that adds less than a tenth of the black and twice the meter's lowest luminance (bright patches: 5 %)",
    "any of it where the plan says `look_again: false`, but for the contradictions that the steps themselves show",
    "a meter that the operator put down off the spot at another place: the check is made before the first such move",
    "what the display itself does to the picture, and a cable that changes it: pixels are read back before the cable",
    "an answer that is wrong and plausible, in the right form and within the bounds",
    "that an fsync survives a power cut: that is the disk's promise",
)
"""What no check here can know; written below the table."""
