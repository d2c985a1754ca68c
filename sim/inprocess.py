"""The simulated bench without processes, ports or sockets: benchd's protocols directly over one scene.

For tests that need thousands of readings a second and for benchmarks. Planned troubles become the errors
that a driver would raise. SIMULATED, as everything here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from benchd.clock import Deadline, StopRequest, wall_label
from benchd.errors import (
    ControlError,
    ControlGarbled,
    ControlMismatch,
    ControlRefused,
    ControlSilent,
    MeterError,
    MeterGarbled,
    MeterHalfAnswer,
    MeterLateAnswer,
    MeterLost,
    MeterRefused,
    MeterSilent,
    MeterWrongUnit,
)
from benchd.instruments.control import Control, SetOutcome
from benchd.instruments.meter import MeterIdentity, Reading, ReadRequest, Status
from benchd.patch.model import Patch
from benchd.patch.screen import ScreenIdentity, Shown, check_shown, probes_for, scaled_code
from benchd.profile.reading.values import Setting
from sim.ddc import DdcDisplay
from sim.displays import display
from sim.faults import FaultSchedule, InjectedFault, When
from sim.meter import WRONG_SERIAL_NUMBER
from sim.picture import Painted, Place
from sim.scene import MOVE_S, Scene, SimulatedReading
from sim.sensor import METERS, NoiseMode
from sim.settings import by_name
from sim.speech import Nameplate

ERRORS: dict[str, type[MeterError]] = {
    "silent": MeterSilent,
    "stuck": MeterSilent,
    "half": MeterHalfAnswer,
    "late": MeterLateAnswer,
    "garbled": MeterGarbled,
    "duplicate": MeterGarbled,
    "wrong_unit": MeterWrongUnit,
    "error": MeterRefused,
    "unplug": MeterLost,
}
"""The error of each trouble of the meter."""

CONTROL_ERRORS: dict[str, type[ControlError]] = {
    "refuse": ControlRefused,
    "lie": ControlMismatch,
    "silent": ControlSilent,
    "garbled": ControlGarbled,
}
"""What each trouble of the display's control channel looks like; a slow one only takes its time."""


def scene_of(
    name: str = "office-lcd",
    *,
    seed: int = 7,
    noise: NoiseMode = "per-patch",
    meter: str = "reference",
    warm: bool = True,
    drift_percent: float = 0.0,
) -> Scene:
    """A scene by the name of its display."""
    sensor = METERS[meter]
    return Scene(display(name), sensor, seed=seed, noise=noise, warm=warm, drift_percent=drift_percent)


class SceneClock:
    """Bench time is scene time: it passes when the meter integrates, the mover moves, or a client sleeps."""

    virtual = True

    def __init__(self, scene: Scene) -> None:
        self._scene = scene

    def now_s(self) -> float:
        return self._scene.now_s

    def wall(self) -> str:
        return wall_label()

    def sleep(self, seconds: float, stop: StopRequest) -> None:
        if seconds > 0 and not stop.asked:
            self._scene.advance(seconds)


class SimScreen:
    """A screen whose pixels are computed from the rectangles of the patch."""

    def __init__(self, scene: Scene, width: int = 1920, height: int = 1080, bits: int = 8) -> None:
        self._scene = scene
        self._identity = ScreenIdentity(
            name="sim-1",
            width=width,
            height=height,
            x=0,
            y=0,
            bits=bits,
            readback="simulated",
            renderer="SIMULATED: no pixels are drawn",
            awake="not needed: there is no screen",
            simulated=True,
            gamma_ramp="identity",
            signal="sdr" if scene.display.model.hdr is None else scene.display.model.hdr.transfer,
            signal_by="SIMULATED: as the simulated display is set",
        )
        # A patch is painted once; plans show the same ones again and again.
        self._painted: dict[Patch, tuple[Painted, Shown]] = {}

    def identify(self) -> ScreenIdentity:
        return self._identity

    def show(self, patch: Patch, deadline: Deadline) -> Shown:
        if patch not in self._painted:
            self._painted[patch] = self._paint(patch)
        picture, shown = self._painted[patch]
        check_shown(patch, self._identity, shown)
        self._scene.show(picture)
        return shown

    def close(self) -> None:
        screen = self._identity
        self._scene.show(Painted(screen.width, screen.height, screen.bits, ()))

    def _paint(self, patch: Patch) -> tuple[Painted, Shown]:
        screen = self._identity
        rects = patch.rectangles(screen.width, screen.height)
        painted = Painted(
            screen.width,
            screen.height,
            screen.bits,
            tuple((*rect[:4], scaled_code(rect.code, patch.bits, screen.bits)) for rect in rects),
        )
        probes = probes_for(rects)
        pixels = tuple(painted.pixel(x, y) for x, y in probes)
        shown = Shown(screen.width, screen.height, screen.name, screen.bits, "simulated", probes, pixels, elapsed_s=0.0)
        return painted, shown


class SimMeter:
    """The scene's meter without a line in between.

    ``instant``: no noise, no integration time, each patch and place computed once: for benchmarks of the
    software around it.
    """

    def __init__(
        self,
        scene: Scene,
        *,
        nameplate: Nameplate | None = None,
        troubles: FaultSchedule | None = None,
        instant: bool = False,
    ) -> None:
        self._scene = scene
        self._nameplate = nameplate or Nameplate()
        self._troubles = troubles or FaultSchedule()
        self._stuck = False
        self._instant: dict[tuple[str, Place], Reading] | None = {} if instant else None

    def identify(self) -> MeterIdentity:
        self._meet("identify")
        plate, sensor = self._nameplate, self._scene.sensor
        return MeterIdentity(
            model=plate.model,
            serial_number=plate.serial_number,
            firmware=plate.firmware,
            driver="simulated",
            address="in this process",
            simulated=True,
            floor_cd_m2=sensor.floor_cd_m2,
            ceiling_cd_m2=sensor.ceiling_cd_m2,
            calibrated=plate.calibrated,
        )

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        if self._instant is not None:
            key = (self._scene.picture.digest, self._scene.place)
            if key not in self._instant:
                truth = self._scene.truth(self._scene.picture, self._scene.place)
                self._instant[key] = _reading(SimulatedReading(truth, "ok", 0.001))
            return self._instant[key]
        taken = self._scene.take(request.integration_s)
        self._meet("reading")
        return _reading(taken)

    def close(self) -> None:
        """Nothing to close; it opens again as after switching on."""
        self._stuck = False

    def _meet(self, question: str) -> None:
        """Raise what the trouble that is due looks like, if one is."""
        trouble = self._troubles.due(question, self._scene.now_s)
        if trouble is not None and trouble.what == "wrong_meter":
            self._nameplate = replace(self._nameplate, serial_number=WRONG_SERIAL_NUMBER)
            return
        if trouble is not None and trouble.what == "stuck":
            self._stuck = True
        if trouble is None and self._stuck:
            trouble = InjectedFault("command", 1, 1, "stuck")
        if trouble is not None:
            raise ERRORS[trouble.what](f"planned trouble of the simulated meter: {trouble.what}")


class SimPositioner:
    """A mover that takes two seconds of scene time."""

    by = "mover"

    def __init__(self, scene: Scene, move_s: float = MOVE_S) -> None:
        self._scene, self._move_s = scene, move_s

    def move(self, place: str, at: Place, deadline: Deadline) -> None:
        self._scene.advance(self._move_s)
        self._scene.be_at(place, *at)

    def close(self) -> None:
        """Nothing to let go of."""


class SimControl:
    """One picture setting of the scene's display, by the name it has in `sim.settings`."""

    def __init__(self, scene: Scene, name: str, troubles: FaultSchedule, settle_s: float = 1.5) -> None:
        self.name, self.settle_s = name, settle_s
        self._scene, self._troubles = scene, troubles

    def read(self, deadline: Deadline) -> Setting:
        self._meet("ddc")
        return by_name(self._scene.settings)[self.name]

    def set(self, value: Setting, deadline: Deadline, *, restoring: bool = False) -> SetOutcome:
        started_s = self._scene.now_s
        self._meet("ddc", "set")
        try:
            self._scene.set(self._scene.settings.but(f"{self.name}={value}"))
        except ValueError as error:
            raise ControlRefused(f"control {self.name}: {error}; correct the plan") from None
        return SetOutcome(value, by_name(self._scene.settings)[self.name], self._scene.now_s - started_s, "ddc")

    def describe(self, deadline: Deadline) -> str:
        return f"is {self.read(deadline)} (simulated)"

    def _meet(self, *names: When) -> None:
        trouble = self._troubles.due_elsewhere(*names)
        if trouble is None:
            return
        if trouble.what == "slow":
            self._scene.advance(trouble.seconds)
            return
        raise CONTROL_ERRORS[trouble.what](f"planned trouble of the simulated display: {trouble.what}")


class SimControls(Mapping[str, Control]):
    """Every picture setting of the scene's display as a control."""

    def __init__(self, scene: Scene, troubles: FaultSchedule | None = None) -> None:
        troubles = troubles or FaultSchedule()
        # It changes its settings by itself, where that is planned, just as the one behind bytes does.
        DdcDisplay(scene, troubles)
        self._controls = {name: SimControl(scene, name, troubles) for name in by_name(scene.settings)}

    def __getitem__(self, name: str) -> Control:
        return self._controls[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._controls)

    def __len__(self) -> int:
        return len(self._controls)

    def close(self) -> None:
        """Nothing to let go of."""


def _reading(taken: SimulatedReading) -> Reading:
    x, y, z = (_rounded(value) for value in taken.xyz)
    raw = f"{taken.status} {x:.5g} {y:.5g} {z:.5g}"
    return Reading((x, y, z), Status(taken.status), taken.integration_s, raw, elapsed_s=0.0)


def _rounded(value: float) -> float:
    """Five significant digits, as the meter's answers have."""
    return float(f"{value:.5g}")
