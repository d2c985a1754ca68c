"""A simulated bench within this process, whole or in parts of one's own, and the log of a run on it. SIMULATED."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import asdict
from pathlib import Path

from benchd.clock import Clock, StopRequest
from benchd.instruments.control import Control
from benchd.instruments.meter import Meter
from benchd.instruments.positioner import Positioner
from benchd.patch.screen import Screen
from benchd.plan.plan import WarmUpLimits
from benchd.plan.step import Step
from benchd.run.adaptive.learned import Learned, Limits
from benchd.run.adaptive.precise_step import Precise
from benchd.run.log import journal
from benchd.run.log.journal import Journal, LogFile
from benchd.run.log.records import Body, Record, RunState, advance
from benchd.run.sequencer import Sequencer
from sim.inprocess import SceneClock, SimMeter, SimPositioner, SimScreen
from sim.scene import Scene


class SceneRig:
    """An opened bench over one scene, that never loses a part; without ``controls`` its display has none."""

    def __init__(
        self,
        scene: Scene,
        *,
        bits: int = 8,
        clock: Clock | None = None,
        meter: Meter | None = None,
        positioner: Positioner | None = None,
        controls: Mapping[str, Control] | None = None,
    ) -> None:
        self.scene = scene
        self.clock: Clock = clock or SceneClock(scene)
        self.screen: Screen = SimScreen(scene, bits=bits)
        self.meter: Meter = meter or SimMeter(scene)
        self.positioner: Positioner = positioner or SimPositioner(scene)
        self.controls: Mapping[str, Control] = controls or {}

    def reopen_meter(self) -> None:
        """Always there."""
        raise AssertionError("nothing is lost here")

    def reopen_screen(self) -> None:
        """Always there."""
        raise AssertionError("nothing is lost here")

    def identities(self) -> Body:
        """Its part of a log's first record."""
        return {"meter": asdict(self.meter.identify()), "screen": asdict(self.screen.identify()), "simulated": True}


@contextmanager
def session_log(path: Path, clock: Clock, body: Body | None = None) -> Iterator[tuple[Journal, RunState]]:
    """A new log whose first record has ``body``, or the next session of one that is there."""
    if path.exists():
        out, state, _ = journal.reopen(path, clock, "next")
        begin: tuple[str, Body | None] = ("resumed", None)
    else:
        out, state = journal.create(path, clock, "first"), RunState()
        begin = ("started", body)
    with closing(out):
        advance(state, out.append(begin[0], body=begin[1]))
        yield out, state


def read_precisely(
    path: Path, scene: Scene, steps: Sequence[Step], warm_up: WarmUpLimits | None = None
) -> list[Record]:
    """The records of a whole run, in a new log, of steps that are read to a precision."""
    rig = SceneRig(scene)
    with session_log(path, rig.clock) as (out, state):
        precise = Precise(steps, state, Learned(Limits(floor_cd_m2=scene.sensor.floor_cd_m2)))
        assert Sequencer(steps, state, rig, out, StopRequest(), warm_up, adaptive=precise).run().complete
    return list(LogFile(path).records())
