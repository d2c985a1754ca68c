"""Who answers at the other end of a serial port in tests (see `Peer`).

`Script` answers by a list of pairs; `Instrument` speaks a dialect and gives the lights it is told, or misbehaves as
it is told.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from benchd.instruments.meter import FOOT_LAMBERT_CD_M2
from benchd.profile.dialect import Dialect, fill
from benchd.profile.exchanges import AnswersWithin
from benchd.profile.reading.strict_yaml import load_model
from tests.instruments.line_time import Answers, Peer

METERS = Path(__file__).parents[2] / "profiles" / "meters"


class Script:
    """(sent, answered, delay) in this order and nothing else; `check` fails on what was not asked."""

    def __init__(self, *pairs: tuple[bytes, bytes | None, float] | tuple[bytes, bytes | None]) -> None:
        self._left = list(pairs)
        self._strange: list[str] = []

    def __call__(self, line: bytes) -> Answers:
        if not self._left:
            self._strange.append(f"{line!r} was asked after the end of the script")
            return
        sent, answered, *delay = self._left.pop(0)
        if line != sent:
            self._strange.append(f"{line!r} was asked where {sent!r} was due")
        if answered is not None:
            yield (delay[0] if delay else 0.0), answered

    def check(self) -> None:
        """Nothing left over, nothing strange."""
        assert not self._strange
        assert not self._left


@dataclass(frozen=True)
class Light:
    """What an instrument sees, in cd/m2."""

    xyz: tuple[float, float, float] = (95.047, 100.0, 108.883)
    status: str = "ok"


Act = Light | str
"""A light, or a trouble: silent, half, garbage, non-ascii, refuse, unit, late, gone, double, figures:..."""


@dataclass
class Instrument:
    """Speaks ``dialect``; each measurement takes the next act, and the last one again and again."""

    dialect: Dialect
    acts: list[Act] = field(default_factory=lambda: [Light()])
    model: str = "INVENTED-1"
    serial: str = "SN-0001"
    unit_set: str | None = None  # token that start exchanges and readings tell, where not the one asked for
    late_s: float = 0.3
    asked: list[str] = field(default_factory=list)
    measured: int = 0
    peer: Peer | None = None

    def __call__(self, line: bytes) -> Answers:
        text = line.decode("ascii")
        self.asked.append(text)
        end = self.dialect.line.end_answered.encode()
        for exchange in self.dialect.start:
            if text == exchange.send:
                if exchange.example is not None:
                    yield (
                        0.0,
                        fill(exchange.example, {"unit": self.unit_set or self.dialect.unit_token()}).encode() + end,
                    )
                return
        ask_unit = self.dialect.measure.ask_unit
        if ask_unit is not None and text == ask_unit.send:
            assert ask_unit.example is not None
            yield 0.0, fill(ask_unit.example, {"unit": self.unit_set or self.dialect.unit_token()}).encode() + end
        elif text == self.dialect.identify.send:
            yield 0.0, self.identity() + end
        elif self.is_measure(text):
            self.measured += 1
            act = self.acts.pop(0) if len(self.acts) > 1 else self.acts[0]
            yield from self.acted(act, end)

    def identity(self) -> bytes:
        told: dict[str, str | float] = {
            "model": self.model,
            "serial": self.serial,
            "firmware": "1.2",
            "calibrated": "2026-01-31",
        }
        return fill(self.dialect.identify.example, told).encode()

    def is_measure(self, text: str) -> bool:
        return text.startswith(self.dialect.measure.send.partition("{")[0])

    def acted(self, act: Act, end: bytes) -> Answers:
        good = self.reading(Light()).encode() + end
        if isinstance(act, Light):
            yield 0.0, self.reading(act).encode() + end
        elif act == "half":
            yield 0.0, good[:7]
        elif act == "garbage":
            yield 0.0, b"%&/!?" + end
        elif act == "non-ascii":
            yield 0.0, b"\xb5\xff" + good
        elif act == "refuse":
            yield 0.0, self.dialect.render_error(self.dialect.error_codes[0]).encode() + end
        elif act == "unit":
            other = next(t for t, unit in self.dialect.units.items() if unit != self.dialect.unit)
            yield 0.0, self.reading(Light(), unit=other).encode() + end
        elif act == "late":
            yield self.late_s, self.reading(Light((1.0, 1.0, 1.0))).encode() + end
        elif act == "double":
            yield 0.0, good + good
        elif act == "gone":
            assert self.peer is not None
            self.peer.unplug()
        elif act.startswith("figures:"):
            yield 0.0, act.removeprefix("figures:").encode() + end
        else:
            assert act == "silent"

    def reading(self, light: Light, unit: str | None = None) -> str:
        token = unit or self.unit_set or self.dialect.unit_token()
        factor = FOOT_LAMBERT_CD_M2 if self.dialect.unit == "foot_lambert" else 1.0
        x, y, z = (value / factor for value in light.xyz)
        total = x + y + z
        values: dict[str, str | float] = {"X": x, "Y": y, "Z": z, "x": x / total, "y": y / total, "integration_s": 0.5}
        values |= self.dialect.tokens(light.status)  # type: ignore[arg-type]
        return fill(self.dialect.measure.example, {**values, "unit": token})


def load(name: str) -> Dialect:
    """A shipped dialect."""
    return load_model(Dialect, (METERS / f"{name}.yaml").read_text(), f"{name}.yaml")


def hasty(dialect: Dialect, **line: object) -> Dialect:
    """The same dialect with short waits, so that a story of many troubles fits into a deadline."""
    within = AnswersWithin(fixed=0.15, per_integration=0.0)
    return dialect.model_copy(
        update={
            "measure": dialect.measure.model_copy(update={"answers_within_s": within}),
            "identify": dialect.identify.model_copy(update={"within_s": 0.4}),
            "start": tuple(each.model_copy(update={"within_s": 0.4, "wait_s": 0.0}) for each in dialect.start),
            "late_within_s": 0.25,
            "line": dialect.line.model_copy(update=line),
        }
    )


def connected(instrument: Instrument, link: Path | None = None) -> Peer:
    """The instrument on a port."""
    peer = Peer(instrument, instrument.dialect.line.end_sent.encode(), link)
    instrument.peer = peer
    return peer
