"""The command on the real window under a virtual X server, the simulated meter looking at its pixels.

Everything is real but the light: pyglet's window, pyserial on a pseudo-terminal, time.
"""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from benchd.patch.model import field, grey
from benchd.run.log.journal import LogFile
from benchd.run.log.records import Record
from sim.inprocess import scene_of
from sim.truth import truth_of
from tests.command.conftest import ROOT, environment
from tests.patch.x_client import XClient
from tests.patch.x_server import XServer, virtual_server

pytestmark = pytest.mark.screen

PLAN = """\
plan: greys
warm_up: none
settle_s: 0.8
readings: 2
order: listed
blocks:
  - patches:
      list:
        - {name: g200, code: 200}
        - {name: red, code: [255, 0, 0]}
        - {name: g120, code: 120}
        - {name: window, code: 255, area_percent: 25, surround: 40}
"""


@pytest.fixture
def server(tmp_path: Path) -> Iterator[XServer]:
    with virtual_server(tmp_path, size="640x360") as running:
        yield running


class Bench:
    """The command in a folder, on an X server."""

    def __init__(self, folder: Path, server: XServer) -> None:
        self.folder = folder
        self.log = folder / "a.log"
        self.environment = {**environment(folder), **server.environment, "PYTHONPATH": str(ROOT)}
        self.environment["XDG_RUNTIME_DIR"] = str(folder / "runtime")
        (folder / "greys.yaml").write_text(PLAN)

    def begin(self, *words: str) -> subprocess.Popen[str]:
        command = [sys.executable, "-m", "benchd", *words]
        return subprocess.Popen(
            command,
            cwd=self.folder,
            env=self.environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    def run(self) -> subprocess.Popen[str]:
        return self.begin("run", "greys.yaml", "--bench", "sim-office-window", "--log", "a.log")

    def finish(self, process: subprocess.Popen[str], code: int) -> str:
        out, errors = process.communicate(timeout=240)
        assert process.returncode == code, errors
        assert "Traceback" not in errors
        return out + errors

    def records(self) -> list[Record]:
        return list(LogFile(self.log).records())

    def wait_for(self, wanted: Callable[[Record], bool]) -> Record:
        limit = time.monotonic() + 120
        while time.monotonic() < limit:
            if self.log.exists() and self.log.stat().st_size:
                for record in self.records():
                    if wanted(record):
                        return record
            time.sleep(0.02)
        raise AssertionError("the record never came")


@pytest.fixture
def bench(tmp_path: Path, server: XServer) -> Bench:
    return Bench(tmp_path, server)


def luminances(bench: Bench) -> dict[str, float]:
    process = bench.begin("results", "a.log", "--json")
    data = json.loads(process.communicate(timeout=240)[0])
    assert data["notice"] == "SIMULATED"
    return {name: patch["luminance"]["value"] for name, patch in data["blocks"]["patches"]["patches"].items()}


def assert_right(bench: Bench) -> None:
    """The figures of the pixels that were asked for, whatever happened on the way."""
    found = luminances(bench)
    scene = scene_of("office-lcd")
    for name, code in (("g200", grey(200)), ("red", (255, 0, 0)), ("g120", grey(120))):
        truth = truth_of(scene, field(code))[1]
        assert abs(found[name] / truth - 1) < 0.01, (name, found[name], truth)


def window_pid(process: subprocess.Popen[str]) -> int:
    """The window is a child of the command."""
    listing = subprocess.run(["ps", "-eo", "pid,ppid,args"], capture_output=True, text=True, check=True).stdout
    for line in listing.splitlines():
        pid, parent, arguments = line.split(None, 2)
        if parent == str(process.pid) and "benchd.patch.window" in arguments:
            return int(pid)
    raise AssertionError("no window process")


def faults(bench: Bench) -> list[str]:
    return [record.body["error"] for record in bench.records() if record.kind == "fault"]


def test_a_run_on_the_real_window(bench: Bench) -> None:
    said = bench.finish(bench.run(), 0)
    assert "SIMULATED" in said
    assert_right(bench)
    started = bench.records()[0].body
    assert started["virtual_time"] is False
    assert started["screen"]["readback"] == "screen"
    assert (started["screen"]["width"], started["screen"]["height"]) == (640, 360)


def test_the_window_is_killed_and_the_run_goes_on_with_a_new_one(bench: Bench) -> None:
    process = bench.run()
    bench.wait_for(lambda record: record.kind == "reading" and record.step.endswith("g200"))
    os.kill(window_pid(process), signal.SIGKILL)
    bench.finish(process, 0)
    assert faults(bench) == ["ScreenLost"]
    assert_right(bench)


def test_another_window_comes_over_the_patch_while_it_is_read(bench: Bench, server: XServer) -> None:
    process = bench.run()
    bench.wait_for(lambda record: record.kind == "shown" and record.step.endswith("g200"))
    client = XClient(server.name)
    cover = client.cover(200, 100, 240, 160, "white")

    def uncover() -> None:
        client.uncover(cover)

    timer = threading.Timer(1.0, uncover)
    timer.start()
    bench.finish(process, 0)
    timer.join()
    client.close()
    assert faults(bench), "a cover that came and went during the readings is seen"
    assert set(faults(bench)) <= {"ScreenDisturbed", "PixelMismatch"}
    assert_right(bench)


def test_a_cover_that_stays_ends_in_a_named_pause(bench: Bench, server: XServer) -> None:
    process = bench.run()
    bench.wait_for(lambda record: record.kind == "done" and record.step.endswith("g200"))
    client = XClient(server.name)
    cover = client.cover(0, 0, 640, 360, "white")
    said = bench.finish(process, 3)
    assert re.search(r"Paused at patches/(red|g120|window)", said), said
    client.uncover(cover)
    client.close()
    bench.finish(bench.begin("resume", "a.log"), 0)
    assert_right(bench)


def test_the_display_server_dies_and_a_resume_on_a_new_one_completes(
    bench: Bench, server: XServer, tmp_path: Path
) -> None:
    process = bench.run()
    bench.wait_for(lambda record: record.kind == "done" and record.step.endswith("g200"))
    server.kill()
    said = bench.finish(process, 3)
    assert "Paused at" in said
    assert "benchd resume a.log" in said
    assert bench.records()[-1].kind == "paused"
    folder = tmp_path / "second"
    folder.mkdir()
    with virtual_server(folder, size="640x360") as second:
        bench.environment["DISPLAY"] = second.name
        bench.finish(bench.begin("resume", "a.log"), 0)
        assert_right(bench)


def test_a_resume_on_a_screen_of_another_size_is_refused(bench: Bench, tmp_path: Path) -> None:
    process = bench.run()
    bench.wait_for(lambda record: record.kind == "done" and record.step.endswith("g200"))
    process.send_signal(signal.SIGINT)
    bench.finish(process, 3)
    folder = tmp_path / "second"
    folder.mkdir()
    with virtual_server(folder, size="800x600") as second:
        bench.environment["DISPLAY"] = second.name
        said = bench.finish(bench.begin("resume", "a.log"), 3)
    assert "800 x 600" in said
    assert bench.records()[-1].kind == "paused", "the log is as it was"
