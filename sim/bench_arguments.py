"""The command line of a simulated bench: which display, which meter, and how both misbehave."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import get_args

from sim.displays import MODELS
from sim.displays_hdr import HDR_MODELS
from sim.displays_story import STORY_MODELS
from sim.faults import parse_trouble
from sim.light_drift import step_of
from sim.scene import MOVE_S
from sim.sensor import METERS, NoiseMode
from sim.speech import Nameplate
from sim.stage import Mounting


def region_of(text: str) -> tuple[int, int, int, int]:
    """``1920x1080+0+0`` as x, y, width, height."""
    size, x, y = text.split("+")
    width, height = size.split("x")
    return int(x), int(y), int(width), int(height)


def millimetres(text: str) -> tuple[float, float]:
    """``40,30`` as two numbers."""
    x, y = text.split(",")
    return float(x), float(y)


def arguments_of(arguments: list[str] | None) -> argparse.Namespace:
    """The command line, read; ends the process with a sentence when it is wrong."""
    parser = argparse.ArgumentParser(prog="python -m sim.bench", description="A simulated bench; SIMULATED.")
    add = parser.add_argument
    add(
        "--display",
        choices=sorted({**MODELS, **HDR_MODELS, **STORY_MODELS}),
        required=True,
        help="which invented display",
    )
    add("--dialect", required=True, help="dialect of the meter: a name, or a file ending in .yaml")
    add("--folder", type=Path, required=True, help="where the port `meter` and the socket `bench.sock` appear")
    add("--seed", type=int, default=7, help="of all noise")
    add("--noise", choices=get_args(NoiseMode), default="per-patch", help="see sim.sensor.Noise")
    add(
        "--noise-correlation-s", type=float, default=0.0, help="in which the noise is forgotten; needs --noise sequence"
    )
    add("--time", choices=("virtual", "real"), default="virtual", help="virtual: passes only on request")
    add("--meter", choices=sorted(METERS), default="reference", help="colorimeter: with spectral mismatch")
    add("--dark-offset", type=float, default=0.0, help="cd/m2 that the meter reads beside the light")
    add("--serial-number", default=Nameplate().serial_number, help="of the meter")
    add("--placement-percent", type=float, default=0.0, help="s.d. of luminance with every placement of the meter")
    add("--cold", action="store_true", help="the display is switched on at the start; else it is warm")
    add("--drift-percent", type=float, default=0.0, help="amplitude of a slow swing of its luminance")
    add("--walk-percent", type=float, default=0.0, help="random walk of its luminance in one hour (1 s.d.)")
    add("--light-step", type=step_of, action="append", default=[], help="such as 600:1.5: 1.5 percent more after 600 s")
    add("--refresh-hz", type=float, default=60.0, help="pictures a second")
    add("--refresh-depth", type=float, default=0.0, help="amplitude of the light's swing at that rate, 0 to 1")
    add("--dimming-hz", type=float, default=0.0, help="rate of a backlight that is switched on and off; 0: steady")
    add("--dimming-duty", type=float, default=1.0, help="share of the time that it is on")
    add("--move-s", type=float, default=MOVE_S, help="time that a move of the meter takes")
    add("--stage", help="dialect of a motion stage that appears as `stage`: a name, or a file ending in .yaml")
    add("--stage-origin-mm", type=millimetres, default=Mounting().origin_mm, help="the screen's top left: 40,30")
    add("--stage-size-mm", type=millimetres, default=Mounting().size_mm, help="width and height, such as 597,336")
    add("--look", action="store_true", help="look at the pixels of the X display (DISPLAY); needs --time real")
    add("--region", type=region_of, help="the monitor to look at, such as 1920x1080+0+0; default: all")
    add("--fault", type=parse_trouble, action="append", default=[], help="such as reading:12:late:3.0")
    wanted = parser.parse_args(arguments)
    if wanted.look and wanted.time != "real":
        parser.error("--look needs --time real: pixels on a real screen can't follow virtual time")
    if wanted.noise_correlation_s > 0.0 and wanted.noise != "sequence":
        parser.error(
            "--noise-correlation-s needs --noise sequence: noise that repeats with the patch is not correlated"
        )
    return wanted
