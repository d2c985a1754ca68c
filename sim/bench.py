"""The simulated bench as a companion process: owns the scene, the meter's port and ``bench.sock``.

    python -m sim.bench --display office-lcd --dialect terse-line --folder FOLDER [--seed 7]

Prints one JSON line when it is ready and ends when its standard input closes. One thread; every event is
handled to its end before the next. ``FOLDER/meter`` is the serial port, ``FOLDER/ddc.sock`` the display's
control channel (see sim.ddc), ``FOLDER/stage`` the port of a motion stage where one is requested;
on virtual time ``FOLDER/bench.sock.now`` holds the time (see sim.virtual_clock);
``FOLDER/bench.sock`` answers one JSON line for each question:

    {"op": "now"}                               {"now_s": 12.5}
    {"op": "advance", "s": 0.6}                 {"now_s": 13.1}             virtual time only
    {"op": "patch", "width": 1920, "height": 1080, "bits": 8, "rects": [[x, y, w, h, r, g, b], ...]}
    {"op": "move", "x": 0.1, "y": 0.9}          takes the mover's time; "place" may be capped or screen-off
    {"op": "fault", "fault": "reading:3:late"}  plants a trouble (see sim.faults)
    {"op": "set", "setting": "brightness=30"}   the operator at the display's menu
    {"op": "mend"}                              no more trouble is planned; room and sensor are as at the start
    {"op": "truth"}                             what a perfect meter would read

A question that can't be answered gets ``{"error": "one sentence"}``.
"""

from __future__ import annotations

import contextlib
import heapq
import json
import os
import selectors
import socket
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from itertools import count
from pathlib import Path
from typing import Any

from benchd.errors import BenchdError, InputError
from benchd.profile import profile_store as library
from benchd.profile.dialect import Dialect
from benchd.profile.stage_dialect import StageDialect
from sim.bench_arguments import arguments_of
from sim.ddc import BUSY_S, DdcDisplay, DdcSocket
from sim.displays import display
from sim.eye import Eye, NothingVisible
from sim.faults import FaultSchedule, InjectedFault, parse_trouble
from sim.flicker import Flicker
from sim.light_drift import light_drift_of
from sim.meter import PtyMeter
from sim.picture import BLACK, Painted
from sim.placing import placed, seed_of_run
from sim.room import ROOM_MEANING, Room
from sim.scene import MOVE_S, Scene
from sim.sensor import METERS, SensorModel
from sim.speech import Nameplate
from sim.stage import Mounting, PtyStage
from sim.truth import summary
from sim.virtual_clock import VirtualTimeFile

Answer = dict[str, Any]
LOOK_EVERY_S = 0.02
LOOK_AGAIN_S = 1.0
LONGEST_QUESTION = 1 << 20


class Refused(Exception):
    """A question that can't be answered; the text gives the reason."""


class SimulatedBench:
    """The event loop. ``eye`` looks at a real screen; without it the picture is sent."""

    def __init__(
        self,
        scene: Scene,
        dialect: Dialect,
        folder: Path,
        *,
        virtual: bool,
        eye: Eye | None = None,
        region: tuple[int, int, int, int] | None = None,
        nameplate: Nameplate | None = None,
        troubles: FaultSchedule | None = None,
        move_s: float = MOVE_S,
        stage: StageDialect | None = None,
        mounting: Mounting | None = None,
    ) -> None:
        self._scene, self._virtual, self._move_s = scene, virtual, move_s
        self._eye, self._region, self._looks = eye, region, eye is not None
        self._started_s = time.monotonic()
        self._timers: list[tuple[float, int, Callable[[], None]]] = []
        self._numbers = count()
        self._selector = selectors.DefaultSelector()
        self._troubles = troubles or FaultSchedule()
        self._address = folder / "bench.sock"
        self._listener = _listening(self._address)
        self._meter_fd = -1
        self._meter: PtyMeter | None = None
        self._meter = PtyMeter(
            scene,
            dialect,
            folder,
            virtual=virtual,
            after=self.after,
            nameplate=nameplate,
            troubles=self._troubles,
            on_plug=self._watch_meter,
        )
        self._watch_meter()
        self._virtual_time = VirtualTimeFile(self._address, scene) if virtual else None
        self._selector.register(self._listener, selectors.EVENT_READ, self._welcome)
        self._ddc = DdcDisplay(scene, self._troubles, busy_s=0.0 if virtual else BUSY_S)
        self._ddc_socket = DdcSocket(
            self._ddc,
            folder / "ddc.sock",
            watch=lambda connection, hear: self._selector.register(connection, selectors.EVENT_READ, hear),
            forget=self._selector.unregister,
            after=self.after,
            virtual=virtual,
        )
        self._stage: PtyStage | None = None
        if stage is not None:
            self._stage = PtyStage(
                scene,
                stage,
                folder,
                virtual=virtual,
                after=self.after,
                mounting=mounting,
                troubles=self._troubles,
            )
            self._selector.register(self._stage.fd, selectors.EVENT_READ, self._stage.hear)
        for trouble in self._troubles.of_the_room:
            self._change_room_at(trouble)
        if self._looks:
            self._look()

    def after(self, seconds: float, action: Callable[[], None]) -> None:
        """Call ``action`` after so many seconds of real time."""
        heapq.heappush(self._timers, (time.monotonic() + seconds, next(self._numbers), action))

    def run(self, stdin_fd: int) -> None:
        """Serve until ``stdin_fd`` ends."""
        ended = False

        def read_stdin() -> None:
            nonlocal ended
            ended = not os.read(stdin_fd, 4096)

        try:
            self._selector.register(stdin_fd, selectors.EVENT_READ, read_stdin)
        except PermissionError:
            return  # a file or /dev/null, which is at its end: it can't be closed later
        while not ended:
            wait_s = max(0.0, self._timers[0][0] - time.monotonic()) if self._timers else None
            ready = self._selector.select(wait_s)
            self._keep_time()
            for key, _ in ready:
                # An earlier handler of the same round may have closed this one.
                if self._selector.get_map().get(key.fd) == key:
                    key.data()
            while self._timers and self._timers[0][0] <= time.monotonic():
                heapq.heappop(self._timers)[2]()

    def close(self) -> None:
        """Let go of everything that has a name."""
        for part in (self._meter, self._stage, self._ddc_socket, self._virtual_time):
            if part is not None:
                part.close()
        self._listener.close()
        self._address.unlink(missing_ok=True)
        self._selector.close()

    def _keep_time(self) -> None:
        if not self._virtual:
            self._scene.reach(time.monotonic() - self._started_s)

    def _watch_meter(self) -> None:
        """The meter's port came or went."""
        if self._meter is None:
            return
        if self._meter_fd >= 0:
            self._selector.unregister(self._meter_fd)
        self._meter_fd = self._meter.fd
        if self._meter_fd >= 0:
            self._selector.register(self._meter_fd, selectors.EVENT_READ, self._meter.hear)

    def _look(self) -> None:
        """See what is really on the screen, again and again; black while there is no screen."""
        self._keep_time()
        try:
            if self._eye is None:
                self._eye = Eye(self._region)
            seen = self._eye.look(self._scene.place)
            if seen != self._scene.picture:
                self._scene.show(seen)
            self.after(LOOK_EVERY_S, self._look)
        except NothingVisible:
            self._eye = None
            if self._scene.picture != BLACK:
                self._scene.show(BLACK)
            self.after(LOOK_AGAIN_S, self._look)

    def _plan(self, trouble: InjectedFault) -> None:
        self._troubles.plan(trouble)
        if trouble.what == "reset":
            self._ddc.reset_at(trouble)
        if trouble.what in ROOM_MEANING:
            self._change_room_at(trouble)

    def _change_room_at(self, trouble: InjectedFault) -> None:
        scene = self._scene

        def change() -> None:
            scene.room = scene.room.after(trouble.what, trouble.value)

        scene.at(trouble.first, change)

    # the socket

    def _welcome(self) -> None:
        connection, _ = self._listener.accept()
        connection.settimeout(5.0)
        heard = b""

        def hear() -> None:
            nonlocal heard
            try:
                more = connection.recv(65536)
            except OSError:
                more = b""
            heard += more
            if not more or len(heard) > LONGEST_QUESTION:
                self._selector.unregister(connection)
                connection.close()
                return
            while b"\n" in heard:
                line, _, heard = heard.partition(b"\n")
                self._question(line, connection)

        self._selector.register(connection, selectors.EVENT_READ, hear)

    def _question(self, line: bytes, connection: socket.socket) -> None:
        delay_s = 0.0
        try:
            asked = json.loads(line)
            if not isinstance(asked, dict):
                raise Refused("a question is a JSON object")
            if asked.get("op") == "move" and not self._virtual:
                delay_s = self._move_s
            answer = self._answer(asked)
        except (Refused, ValueError, KeyError, TypeError, OverflowError) as error:
            what = f"{error} is missing" if isinstance(error, KeyError) else str(error)
            answer = {"error": f"the simulated bench can't answer {line[:200]!r}: {what}"}
        data = json.dumps(answer).encode() + b"\n"

        def send() -> None:
            with contextlib.suppress(OSError):  # the client may be gone
                connection.sendall(data)

        if delay_s:
            self.after(delay_s, send)
        else:
            send()

    def _answer(self, asked: dict[str, Any]) -> Answer:
        scene, op = self._scene, asked.get("op")
        if op == "advance":
            if not self._virtual:
                raise Refused("this bench runs in real time")
            scene.advance(float(asked["s"]))
        elif op == "patch":
            if self._looks:
                raise Refused("this bench looks at the real screen and takes no picture")
            picture = Painted.from_flat(asked["width"], asked["height"], asked["bits"], asked["rects"])
            scene.show(picture)
        elif op == "move":
            scene.be_at(str(asked.get("place")), float(asked["x"]), float(asked["y"]))
            if self._virtual:
                scene.advance(self._move_s)
        elif op == "fault":
            self._plan(parse_trouble(str(asked["fault"])))
        elif op == "set":
            scene.set(scene.settings.but(str(asked["setting"])))
        elif op == "mend":
            self._troubles.forget()
            scene.room = Room()
            if self._meter is not None:
                self._meter.thaw()
        elif op == "truth":
            here = {"place": list(scene.place), "xyz": list(scene.truth(scene.picture, scene.place))}
            return {**summary(scene), "here": here, "now_s": scene.now_s}
        elif op != "now":
            raise Refused("op is one of now, advance, patch, move, fault, set, mend, truth")
        return {"now_s": scene.now_s} if op in ("now", "advance") else {"ok": True, "now_s": scene.now_s}


def _listening(address: Path) -> socket.socket:
    """A socket at ``address``, first of all: where none can be made, nothing else is left in its folder."""
    address.unlink(missing_ok=True)
    made = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    try:
        made.bind(str(address))
    except OSError as error:
        made.close()
        raise InputError(
            f"no socket can be made in {address.parent} ({error.strerror or error}); name another folder, "
            "or set TMPDIR to a shorter one"
        ) from None
    made.listen(8)
    return made


def load_stage(name: str) -> StageDialect:
    """A stage's dialect by name or by path. Raises an `InputError`."""
    path = library.find("stages", name)
    return library.load_stage(library.read_text(path), str(path))


def load_dialect(name: str) -> Dialect:
    """A dialect by name or by path. Raises an `InputError`."""
    path = library.find("meters", name)
    return library.load_dialect(library.read_text(path), str(path))


def sensor_for(dialect: Dialect, sensor: SensorModel) -> SensorModel:
    """The sensor with the luminance range that the dialect's meter is specified for."""
    if dialect.range_cd_m2 is None:
        return sensor
    floor_cd_m2, ceiling_cd_m2 = dialect.range_cd_m2
    return replace(sensor, floor_cd_m2=floor_cd_m2, ceiling_cd_m2=ceiling_cd_m2)


def main(arguments: list[str] | None = None) -> int:
    """Run the companion. Exit status 2 with one sentence when it can't start."""
    wanted = arguments_of(arguments)
    try:
        dialect = load_dialect(wanted.dialect)
        sensor = replace(sensor_for(dialect, METERS[wanted.meter]), offset_cd_m2=(wanted.dark_offset,) * 3)
        scene = Scene(
            display(wanted.display),
            placed(sensor, wanted.placement_percent, wanted.seed),
            seed=seed_of_run(wanted.seed),
            noise=wanted.noise,
            warm=not wanted.cold,
            drift_percent=wanted.drift_percent,
            noise_correlation_s=wanted.noise_correlation_s,
            light_drift=light_drift_of(wanted.walk_percent, wanted.light_step, wanted.seed),
            flicker=Flicker(wanted.refresh_hz, wanted.refresh_depth, wanted.dimming_hz, wanted.dimming_duty),
        )
        bench = SimulatedBench(
            scene,
            dialect,
            wanted.folder,
            virtual=wanted.time == "virtual",
            eye=Eye(wanted.region) if wanted.look else None,
            region=wanted.region,
            nameplate=Nameplate(serial_number=wanted.serial_number),
            troubles=FaultSchedule(tuple(wanted.fault)),
            move_s=wanted.move_s,
            stage=load_stage(wanted.stage) if wanted.stage else None,
            mounting=Mounting(wanted.stage_origin_mm, wanted.stage_size_mm),
        )
    except (BenchdError, NothingVisible, OSError) as error:
        sys.stderr.write(f"the simulated bench can't start: {error}\n")
        return 2
    try:
        sys.stdout.write(json.dumps({"ready": True, "simulated": True, "display": wanted.display}) + "\n")
        sys.stdout.flush()
        bench.run(sys.stdin.fileno())
    except (KeyboardInterrupt, BrokenPipeError):
        pass  # the terminal's Ctrl-C reaches every process of the group; benchd decides what it means
    finally:
        bench.close()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
