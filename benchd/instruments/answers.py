"""What a meter's answer means: pure, from a line of text to XYZ in cd/m2 and a status."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from benchd.errors import MeterGarbled, MeterRefused, MeterWrongUnit
from benchd.instruments.meter import FOOT_LAMBERT_CD_M2, XYZ, Status
from benchd.profile.dialect import Dialect, compiled

_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?", re.ASCII)
UNITS_CD_M2 = {"cd_m2": 1.0, "foot_lambert": FOOT_LAMBERT_CD_M2}
# The disc of the sun has about 1.6e9 cd/m2 (common knowledge of photometry): no display has more.
_BRIGHTEST_CD_M2 = 1e10
# How far below zero the noise of a dark reading may go when the meter's range is not known.
_NOISE_CD_M2 = 0.05


@dataclass(frozen=True, slots=True)
class Understood:
    """One answer, understood."""

    xyz: XYZ | None
    status: Status
    integration_s: float | None  # as the meter reports it


def understand(dialect: Dialect, question: str, answer: str) -> Understood:
    """Read the ``answer`` to the measuring ``question``.

    Raises `MeterRefused` for an error code, `MeterWrongUnit`, and `MeterGarbled` for everything that the
    dialect does not have or that no light can be.
    """
    if error := dialect.error_of(answer):
        code, sentence = error
        why = sentence or "a code that the dialect does not explain; look it up in the meter's manual"
        raise MeterRefused(f"the meter refused {question!r}: {code}, {why} (it answered {answer!r})")
    if (match := compiled(dialect.measure.expect).fullmatch(answer)) is None:
        raise MeterGarbled(
            f"the meter answered {question!r} with {answer!r}, which 'measure: expect' of dialect {dialect.meter} "
            "does not have; check the cable and the port settings, or correct the dialect"
        )
    groups = match.groupdict()
    unit = check_unit(dialect, question, answer, groups.get("unit"))
    status = _status(dialect, question, answer, groups.get("status"))
    figures = [groups[name] for name in dialect.measure.quantities]
    xyz: XYZ | None = None
    if not any(figure is None or figure in dialect.no_figure for figure in figures):
        xyz = _xyz(dialect, question, answer, [str(figure) for figure in figures], unit)
        if not possible(xyz, dialect.range_cd_m2[0] if dialect.range_cd_m2 else None):
            if status in (Status.OK, Status.UNSTABLE):
                raise _garbled(question, answer, "which no light can be")
            xyz = None  # the meter itself reports that the figures are not valid
    elif status in (Status.OK, Status.UNSTABLE):
        raise _garbled(question, answer, "a good status without figures")
    return Understood(xyz, status, _integration_s(question, answer, groups))


def check_unit(dialect: Dialect, question: str, answer: str, token: str | None) -> str:
    """The unit of an answer with ``token`` (None: it has none). Raises `MeterWrongUnit`."""
    if token is None:
        # A dialect without a unit of its own has the group, and a match without it is no reading.
        if dialect.unit is None:
            raise MeterWrongUnit(f"the meter answered {question!r} with {answer!r}, which names no unit")
        return dialect.unit
    unit = dialect.units.get(token)
    if unit is None or dialect.unit not in (None, unit):
        wanted = dialect.unit or " or ".join(sorted(set(dialect.units.values())))
        raise MeterWrongUnit(
            f"the meter answered {question!r} with {answer!r}, in unit {token!r} ({unit or 'unknown'}) instead of "
            f"{wanted}; set the meter to {wanted}, or let the start-up exchange of dialect {dialect.meter} set it"
        )
    return unit


def _status(dialect: Dialect, question: str, answer: str, token: str | None) -> Status:
    if token is None:
        return Status.OK
    if token not in dialect.status:
        raise _garbled(question, answer, f"with status {token!r}, which 'status' of dialect {dialect.meter} lacks")
    return Status(dialect.status[token])


def _xyz(dialect: Dialect, question: str, answer: str, figures: list[str], unit: str) -> XYZ:
    first, second, third = (_number(figure, question, answer) for figure in figures)
    factor = dialect.scale * UNITS_CD_M2[unit]
    if dialect.measure.quantities == ("X", "Y", "Z"):
        return (first * factor, second * factor, third * factor)
    luminance_cd_m2 = first * factor
    if dialect.measure.quantities == ("Y", "u", "v"):
        # CIE 15, CIE 1976 uniform chromaticity scale: the inverse of u' = 4x / (-2x + 12y + 3), v' = 9y / (...).
        below = 6 * second - 16 * third + 12
        x, y = (9 * second / below, 4 * third / below) if below > 0 else (math.nan, math.nan)
    else:
        x, y = second, third
    if luminance_cd_m2 == 0:
        return (0.0, 0.0, 0.0)
    if not (y > 0 and x >= 0 and x + y <= 1):
        return (math.nan, luminance_cd_m2, math.nan)
    return (luminance_cd_m2 * x / y, luminance_cd_m2, luminance_cd_m2 * (1 - x - y) / y)


def _number(text: str, question: str, answer: str) -> float:
    if _NUMBER.fullmatch(text.strip()) is None:
        raise _garbled(question, answer, f"where {text!r} is no number")
    return float(text)


def possible(xyz: XYZ, floor_cd_m2: float | None) -> bool:
    """False for what no light can be: not finite, negative beyond noise, or brighter than the sun."""
    noise_cd_m2 = max(_NOISE_CD_M2, 10 * (floor_cd_m2 or 0.0))
    return all(-noise_cd_m2 <= value <= _BRIGHTEST_CD_M2 for value in xyz)  # false for nan


def _integration_s(question: str, answer: str, groups: dict[str, str | None]) -> float | None:
    for name, factor in (("integration_s", 1.0), ("integration_ms", 0.001)):
        if (text := groups.get(name)) is not None:
            return _number(text, question, answer) * factor
    return None


def _garbled(question: str, answer: str, why: str) -> MeterGarbled:
    return MeterGarbled(f"the meter answered {question!r} with {answer!r}, {why}; look at the cable and the meter")
