"""A simulated motion stage on a pseudo-terminal: serves a stage's dialect, moves the meter over the screen.

Its reference is at 0, 0 mm. In virtual time a move is over when it is answered, and scene time has gone on by the
travel; in real time the stage is on its way for so long and reports where it is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from benchd.profile.dialect import fill
from benchd.profile.stage_dialect import StageDialect
from sim.faults import FaultSchedule, InjectedFault
from sim.meter import Port
from sim.scene import Scene
from sim.speech import template_pattern

SPEED_MM_S = 150.0
TRAVEL_MM = 2000.0
SHORT_MM = 5.0
LONGEST_LINE = 4096
EDGE = 1e-4  # of the screen: a command has its millimetres rounded

Millimetres = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Mounting:
    """Where the screen is in the stage's axes."""

    origin_mm: Millimetres = (40.0, 30.0)
    size_mm: Millimetres = (597.0, 336.0)

    def fractions(self, position_mm: Millimetres) -> tuple[float, float]:
        """A place of the stage as fractions of the screen; outside 0 to 1 beside it."""
        x, y = (
            (position - origin) / size
            for position, origin, size in zip(position_mm, self.origin_mm, self.size_mm, strict=True)
        )
        return x, y


class PtyStage:
    """The stage: reads lines, moves, answers. ``after`` runs its timers (real time only)."""

    def __init__(
        self,
        scene: Scene,
        dialect: StageDialect,
        folder: Path,
        *,
        virtual: bool,
        after: Callable[[float, Callable[[], None]], None],
        mounting: Mounting | None = None,
        troubles: FaultSchedule | None = None,
    ) -> None:
        self._scene, self._dialect, self._virtual, self._after = scene, dialect, virtual, after
        self._mounting, self._troubles = mounting or Mounting(), troubles or FaultSchedule()
        self._move = template_pattern(dialect.move.send)
        self._port = Port(folder)
        self._port.plug("stage")
        self._heard = b""
        self._stuck = False
        self._from_mm: Millimetres = (0.0, 0.0)
        self._to_mm: Millimetres = (0.0, 0.0)
        self._left_s = 0.0  # scene time of the last departure

    @property
    def fd(self) -> int:
        """What to wait on."""
        return self._port.fd

    @property
    def position_mm(self) -> Millimetres:
        """Where it is now."""
        travel_s = _way_mm(self._from_mm, self._to_mm) / SPEED_MM_S
        part = 1.0 if travel_s == 0.0 else min(1.0, (self._scene.now_s - self._left_s) / travel_s)
        x, y = (start + part * (goal - start) for start, goal in zip(self._from_mm, self._to_mm, strict=True))
        return x, y

    def hear(self) -> None:
        """Take what has come on the line and answer it."""
        self._heard += self._port.read()
        end = self._dialect.line.end_sent.encode("ascii")
        while end in self._heard:
            line, _, self._heard = self._heard.partition(end)
            answer = self._answer(line.decode("ascii", "replace"))
            if answer is not None:
                self._port.write((answer + self._dialect.line.end_answered).encode("ascii", "replace"))
        if len(self._heard) > LONGEST_LINE:
            self._heard = b""

    def close(self) -> None:
        """Vanish."""
        self._port.unplug()

    def _answer(self, line: str) -> str | None:
        dialect = self._dialect
        trouble = self._troubles.due_elsewhere("stage")
        what = trouble.what if trouble is not None else ""
        if what == "silent":
            return None
        if what == "garbled":
            return "#" * 9
        if what == "error":
            return self._error(trouble)
        self._stuck |= what == "stuck"
        if line == dialect.identify.send:
            plate: dict[str, str | float] = {"model": "WAGTAIL-INVENTED", "serial": "SIM-0003", "firmware": "SIM-1.0"}
            return fill(dialect.identify.example, {**plate, "calibrated": ""})
        if line == dialect.position.send:
            x_mm, y_mm = self.position_mm
            return fill(dialect.position.example, {"x_mm": x_mm, "y_mm": y_mm})
        for exchange in dialect.start:
            if line == exchange.send:
                return exchange.example
        if dialect.home is not None and line == dialect.home.send:
            self._go((0.0, 0.0))
            return dialect.home.example
        if match := self._move.fullmatch(line):
            return self._moved(match["x_mm"], match["y_mm"], SHORT_MM if what == "short" else 0.0)
        return self._error(None)

    def _moved(self, x_mm: str, y_mm: str, short_mm: float) -> str | None:
        try:
            goal = (float(x_mm), float(y_mm))
        except ValueError:
            return self._error(None)
        if not all(0.0 <= axis <= TRAVEL_MM for axis in goal):
            return self._error(None)
        self._go((goal[0] - short_mm, goal[1]))
        return (
            None
            if self._dialect.move.example is None
            else fill(self._dialect.move.example, {"x_mm": goal[0], "y_mm": goal[1]})
        )

    def _go(self, goal_mm: Millimetres) -> None:
        if self._stuck:
            return
        self._from_mm, self._to_mm, self._left_s = self.position_mm, goal_mm, self._scene.now_s
        travel_s = _way_mm(self._from_mm, goal_mm) / SPEED_MM_S
        if self._virtual:
            self._scene.advance(travel_s)
            self._arrive(goal_mm)
        else:
            self._after(travel_s, lambda: self._arrive(goal_mm))

    def _arrive(self, goal_mm: Millimetres) -> None:
        """The meter looks at another place; beside the screen it keeps the last one, since nothing is shown there."""
        x, y = self._mounting.fractions(goal_mm)
        if goal_mm == self._to_mm and all(-EDGE <= part <= 1.0 + EDGE for part in (x, y)):
            self._scene.move(min(max(x, 0.0), 1.0), min(max(y, 0.0), 1.0))

    def _error(self, trouble: InjectedFault | None) -> str:
        codes = list(self._dialect.errors)
        return trouble.value if trouble is not None and trouble.value else (codes[0] if codes else "ERROR")


def _way_mm(one: Millimetres, other: Millimetres) -> float:
    return max(abs(a - b) for a, b in zip(one, other, strict=True))
