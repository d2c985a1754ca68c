"""Virtual X servers for the window tests, each on a display number of its own.

No number is used twice: a server that was killed must not seem to come back because another test began one.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import select
import shutil
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

STARTS_WITHIN_S = 60.0
PACKAGES = {
    "Xvfb": "xvfb",
    "Xorg": "xserver-xorg-core",
    "xrandr": "x11-xserver-utils",
    "xset": "x11-xserver-utils",
}
NUMBERS = itertools.count(100 + os.getpid() % 400 * 50)
"""Display numbers of this process; every worker has a range of its own."""
SOCKETS = Path("/tmp/.X11-unix")
DUMMY_DRIVER = Path("/usr/lib/xorg/modules/drivers/dummy_drv.so")

# Two outputs of different sizes; a driver that draws into memory. Mode lines after VESA DMT and CVT timings.
DUMMY_CONFIG = """
Section "ServerFlags"
  Option "AutoAddDevices" "false"
  Option "DontVTSwitch" "true"
EndSection
Section "Device"
  Identifier "card"
  Driver "dummy"
  VideoRam 256000
EndSection
Section "Monitor"
  Identifier "monitor"
  HorizSync 5.0-1000.0
  VertRefresh 5.0-200.0
EndSection
Section "Screen"
  Identifier "screen"
  Device "card"
  Monitor "monitor"
  DefaultDepth 24
  SubSection "Display"
    Depth 24
    Modes "1024x768" "800x600" "640x480"
    Virtual 3200 1080
  EndSubSection
EndSection
"""


def missing(what: str, package: str) -> None:
    """A test can't run here: fail where everything must run, else skip; either way name the package."""
    sentence = f"{what} is missing; install the Debian package {package}"
    if os.environ.get("CI"):
        pytest.fail(sentence)
    pytest.skip(sentence)


def need(program: str) -> str:
    """The path of ``program``."""
    path = shutil.which(program)
    if path is None:
        missing(program, PACKAGES[program])
        raise AssertionError
    return path


def unused_number() -> int:
    """A display number that nobody has, not even a server that an earlier run of the tests left behind."""
    return next(number for number in NUMBERS if not (SOCKETS / f"X{number}").exists())


class XServer:
    """A running X server, by its process and its name such as ":99"."""

    def __init__(self, command: list[str], log: Path) -> None:
        read_end, write_end = os.pipe()
        with log.open("wb") as stream:
            self.process = subprocess.Popen(
                [*command, f":{unused_number()}", "-displayfd", str(write_end), "-nolisten", "tcp", "-noreset"],
                pass_fds=[write_end],
                stdin=subprocess.DEVNULL,
                stdout=stream,
                stderr=stream,
                cwd=log.parent,
            )
        os.close(write_end)
        number = ""
        # Until the line end: a server whose reader has gone before it has said it all dies of that.
        while not number.endswith("\n") and select.select([read_end], [], [], STARTS_WITHIN_S)[0]:
            piece = os.read(read_end, 32)
            number += piece.decode()
            if not piece:
                break
        os.close(read_end)
        if not number.endswith("\n"):
            self.stop()
            pytest.fail(f"{command[0]} did not start: {log.read_text(errors='replace')[-600:]}")
        self.name = f":{number.strip()}"
        self.environment = {
            **{key: value for key, value in os.environ.items() if key != "WAYLAND_DISPLAY"},
            "DISPLAY": self.name,
            "LIBGL_ALWAYS_SOFTWARE": "1",
        }

    def run(self, *command: str) -> str:
        """Run a client of this server; its output."""
        return subprocess.run(
            [need(command[0]), *command[1:]],
            env=self.environment,
            capture_output=True,
            text=True,
            check=True,
            timeout=60,
        ).stdout

    def kill(self) -> None:
        """The server dies at once."""
        self.process.kill()
        self.process.wait()

    def freeze(self) -> None:
        """The server stops answering."""
        self.process.send_signal(signal.SIGSTOP)

    def thaw(self) -> None:
        """And goes on."""
        self.process.send_signal(signal.SIGCONT)

    def stop(self) -> None:
        """The end of it, in whatever state it is."""
        if self.process.poll() is None:
            self.thaw()
            self.process.terminate()
            try:
                self.process.wait(20)
            except subprocess.TimeoutExpired:
                self.kill()


@contextlib.contextmanager
def virtual_server(folder: Path, depth: int = 24, size: str = "1280x720") -> Iterator[XServer]:
    """Xvfb with one output, called ``screen``."""
    server = XServer([need("Xvfb"), "-screen", "0", f"{size}x{depth}"], folder / "xvfb.log")
    try:
        yield server
    finally:
        server.stop()


@contextlib.contextmanager
def two_outputs(folder: Path) -> Iterator[XServer]:
    """Xorg on memory: DUMMY0 (1024 x 768 at 0,0; primary) and DUMMY1 (800 x 600 at 1024,0)."""
    program = need("Xorg")
    if not DUMMY_DRIVER.exists():
        missing("Xorg's dummy driver", "xserver-xorg-video-dummy")
    need("xrandr")
    config = folder / "dummy.conf"
    config.write_text(DUMMY_CONFIG)
    command = [program, "-config", str(config), "-logfile", str(folder / "xorg.log")]
    server = XServer(command, folder / "xorg.out")
    try:
        server.run("xrandr", "--output", "DUMMY0", "--mode", "1024x768", "--primary")
        server.run("xrandr", "--addmode", "DUMMY1", "800x600")
        server.run("xrandr", "--output", "DUMMY1", "--mode", "800x600", "--right-of", "DUMMY0")
        yield server
    finally:
        server.stop()
