"""Named patches of one block as they were measured: luminance, chromaticity, and figures made from several of them.

A figure of a colour is computed from x, y and luminance, so that its standard deviation and its uncertainty follow
from theirs (`quantity.derived`). Sensitivities are central differences, all patches and all directions at once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.places import NOT_MEASURED
from benchd.analysis.log.step_data import StepData
from benchd.analysis.log.step_light import MeterRange, chromaticities, luminance_of
from benchd.analysis.results import Chromaticity
from benchd.analysis.uncertainty.quantity import Quantity, absent

Array = colour.Array

NUDGE = 1e-5
"""Step of a difference, as a share of the value: far above rounding, far below any curvature."""


class PatchValues(NamedTuple):
    """One patch: its codes, its luminance in cd/m2, its chromaticity, and its readings (None: not measured)."""

    code: tuple[int, int, int]
    luminance: Quantity
    chromaticity: Chromaticity
    measured: StepData | None = None

    @property
    def parts(self) -> tuple[Quantity, Quantity, Quantity]:
        """x, y and luminance."""
        return self.chromaticity.x, self.chromaticity.y, self.luminance

    @property
    def usable(self) -> bool:
        """True when all three are values, not bounds."""
        return all(part.plain for part in self.parts)

    @property
    def why(self) -> str:
        """Why it is not usable."""
        return next((part.why for part in (self.luminance, *self.parts) if not part.plain), "")

    @property
    def xyl(self) -> tuple[float, float, float]:
        """x, y and luminance as numbers; NaN where it is not usable."""
        if not self.usable:
            return (np.nan, np.nan, np.nan)
        x, y, luminance = (part.value or 0.0 for part in self.parts)
        return (x, y, luminance)


def patches_of(
    log_data: LogData, block: Mapping[str, Any], names: Sequence[str], meter: MeterRange
) -> dict[str, PatchValues]:
    """Every one of ``names`` that was measured in ``block``, in their order."""
    found = {str(one.labels.get("name")): one for one in log_data.of_block(str(block["name"]))}
    known = [name for name in names if name in found]
    steps = [found[name] for name in known]
    luminances = [luminance_of(step, meter) for step in steps]
    colours = chromaticities(steps, luminances, cct=False)
    rows = zip(known, steps, luminances, colours, strict=True)
    return {name: PatchValues(step.code, luminance, shade, step) for name, step, luminance, shade in rows}


def patch_of(patches: Mapping[str, PatchValues], name: str) -> PatchValues:
    """The patch ``name``; where it was not measured, one without figures and with the reason."""
    if name in patches:
        return patches[name]
    why = f"{name}: {NOT_MEASURED}"
    nothing = absent("1", why)
    return PatchValues(
        (0, 0, 0), absent("cd/m2", why), Chromaticity(nothing, nothing, nothing, nothing, absent("K", why), nothing)
    )


def xyz(xyl: Array) -> Array:
    """XYZ (..., 3) of x, y and luminance (..., 3)."""
    return colour.xyz_from_xy(xyl[..., :2], xyl[..., 2])


def by_xyz(xyl: Array) -> Array:
    """Derivatives (..., 3, 3) of x, y and luminance by X, Y and Z, at x, y and luminance (..., 3)."""
    x, y, total = xyl[..., 0], xyl[..., 1], xyl[..., 2] / xyl[..., 1]
    rows = [(1.0 - x, -x, -x), (-y, 1.0 - y, -y)]
    found = np.stack([np.stack(row, axis=-1) / total[..., None] for row in rows], axis=-2)
    level = np.broadcast_to((0.0, 1.0, 0.0), (*x.shape, 1, 3))
    return np.concatenate([found, level], axis=-2)


def slopes(function: Callable[[Array, Array], Array], samples: Array, white: Array) -> tuple[Array, Array]:
    """Values (n, k) of ``function`` and its derivatives (n, k, 6): by x, y, luminance of sample, then of white.

    ``function`` takes samples (..., n, 3) and whites (..., 1, 3), both as x, y and luminance, and gives (..., n, k).
    """
    step, white_step = NUDGE * samples, NUDGE * white
    shifts = np.concatenate([np.eye(3), -np.eye(3)])
    moved = [samples + shift * step for shift in shifts]
    moved_white = [white + shift * white_step for shift in shifts]
    stack = np.stack([samples, *moved, *[samples] * 6])
    whites = np.stack([white, *[white] * 6, *moved_white])[:, None, :]
    values = function(stack, whites)
    by_sample = (values[1:4] - values[4:7]) / (2.0 * step.T[:, :, None])
    by_white = (values[7:10] - values[10:13]) / (2.0 * white_step[:, None, None])
    return values[0], np.moveaxis(np.concatenate([by_sample, by_white]), 0, -1)
