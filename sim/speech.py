"""A dialect, spoken from the meter's side: questions are recognised by the dialect's own templates, and
answers are its own examples, filled with real figures. Pure text; the port is in `sim.meter`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from string import Formatter
from typing import Literal

from benchd.profile.dialect import Dialect, StatusName, UnitName
from benchd.profile.exchanges import fill, names_in
from sim.scene import SimulatedReading
from sim.spectra import Triple

FOOT_LAMBERT_CD_M2 = 3.4262590996353905
"""1/pi candela per square foot, the foot being 0.3048 m (NIST SP 811, appendix B.8)."""


@dataclass(frozen=True, slots=True)
class Nameplate:
    """The identity of the simulated meter."""

    model: str = "LAPWING-INVENTED"
    serial_number: str = "SIM-0007"
    firmware: str = "SIM-1.0"
    calibrated: str = "2026-03-02"


@dataclass(frozen=True, slots=True)
class Question:
    """A question that was understood. ``integration_s`` is None where the meter is to choose."""

    kind: Literal["start", "identify", "set_integration", "unit", "reading"]
    index: int = 0  # of a start exchange
    integration_s: float | None = None
    tells_time: bool = False


class Speech:
    """One dialect. ``nameplate`` and ``unit`` may change meanwhile."""

    def __init__(self, dialect: Dialect, nameplate: Nameplate) -> None:
        self.dialect = dialect
        self.nameplate = nameplate
        units = [dialect.unit] if dialect.unit is not None else list(dialect.units.values())
        self.unit: UnitName = units[0]
        measure = dialect.measure
        self._set_integration = template_pattern(measure.set_integration.send) if measure.set_integration else None
        self._reading = template_pattern(measure.send)
        self._starts = {fill(exchange.send, {}): index for index, exchange in reversed([*enumerate(dialect.start)])}
        self._identify = fill(dialect.identify.send, {})
        self._default_s = dialect.integration.default_s if dialect.integration else None

    @property
    def tells_unit(self) -> bool:
        """True when every reading carries its unit."""
        return "unit" in names_in(self.dialect.measure.example)

    def understand(self, line: str) -> Question | None:
        """The question in a line (without its end), or None when this meter does not have it."""
        if line in self._starts:
            return Question("start", self._starts[line])
        if line == self._identify:
            return Question("identify")
        ask_unit = self.dialect.measure.ask_unit
        if ask_unit is not None and line == ask_unit.send:
            return Question("unit")
        if self._set_integration and (match := self._set_integration.fullmatch(line)):
            return self._timed("set_integration", match)
        if match := self._reading.fullmatch(line):
            return self._timed("reading", match)
        return None

    def acknowledge(self, question: Question) -> str | None:
        """The answer to a start exchange, a set integration time or the unit; None where none is expected."""
        measure = self.dialect.measure
        exchange = measure.ask_unit if question.kind == "unit" else measure.set_integration
        if question.kind == "start":
            exchange = self.dialect.start[question.index]
            for word in re.findall(r"\w+", exchange.send):
                self.unit = self.dialect.units.get(word, self.unit)  # such as "UN FL": it sets the unit
        if exchange is None or exchange.example is None:
            return None
        return fill(exchange.example, {"unit": self.dialect.unit_token(self.unit)})

    def identity(self) -> str:
        """The answer to the identification."""
        plate = self.nameplate
        return fill(
            self.dialect.identify.example,
            {
                "model": plate.model,
                "serial": plate.serial_number,
                "firmware": plate.firmware,
                "calibrated": plate.calibrated,
            },
        )

    def reading(self, taken: SimulatedReading, unit: UnitName | None = None) -> str:
        """The answer with a reading, in ``unit`` or in the unit that the meter is set to."""
        in_unit = unit or self.unit
        factor = self.dialect.scale * (FOOT_LAMBERT_CD_M2 if in_unit == "foot_lambert" else 1.0)
        values = _quantities(taken.xyz, factor)
        values |= {"integration_s": taken.integration_s, "integration_ms": taken.integration_s * 1000.0}
        status: StatusName = taken.status
        if status not in self.dialect.status.values():
            status = "ok"
        if status == "over" and self.dialect.no_figure:
            values |= dict.fromkeys(self.dialect.measure.quantities, self.dialect.no_figure[-1])
        return fill(self.dialect.measure.example, {**values, **self.dialect.tokens(status, in_unit)})

    def other_unit(self) -> UnitName:
        """The unit that the meter is not set to."""
        return "cd_m2" if self.unit == "foot_lambert" else "foot_lambert"

    def error(self, code: str = "") -> str:
        """The answer with an error: ``code``, or the first of the dialect."""
        codes = self.dialect.error_codes
        if code in codes or (not code and codes):
            return self.dialect.render_error(code or codes[0])
        return code or "ERROR"

    def _timed(self, kind: Literal["set_integration", "reading"], match: re.Match[str]) -> Question:
        groups = match.groupdict()
        limits = self.dialect.integration
        if not groups or limits is None:
            return Question(kind, integration_s=self._default_s)
        (name, text), *_ = groups.items()
        if text == limits.automatic_as:
            return Question(kind, tells_time=True)
        try:
            seconds = float(text) / (1000.0 if name == "integration_ms" else 1.0)
        except ValueError:
            return Question(kind, integration_s=self._default_s)
        # Many meters bring a time that they can't do into their range, and so does this one.
        return Question(kind, integration_s=min(max(seconds, limits.low_s), limits.high_s), tells_time=True)


def template_pattern(template: str) -> re.Pattern[str]:
    """Recognises a question made from ``template``; its groups are the template's names."""
    parts = []
    for literal, name, _, _ in Formatter().parse(template):
        parts.append(re.escape(literal))
        if name is not None:
            parts.append(rf"(?P<{name}>[^\s,;]+)")
    return re.compile("".join(parts))


def _quantities(xyz: Triple, factor: float) -> dict[str, str | float]:
    """All figures that a dialect may have. A light of nothing has the equal-energy chromaticity."""
    x, y, z = xyz if sum(xyz) > 0.0 else (1.0, 1.0, 1.0)
    total, uv_total = x + y + z, x + 15.0 * y + 3.0 * z  # CIE 15:2018, 7.3 and 8.1
    return {
        "X": xyz[0] / factor,
        "Y": xyz[1] / factor,
        "Z": xyz[2] / factor,
        "x": x / total,
        "y": y / total,
        "u": 4.0 * x / uv_total,
        "v": 9.0 * y / uv_total,
    }
