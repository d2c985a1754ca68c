"""The colour difference of a grey step whose luminance is only a bound: not a number, but at most so much.

Between no light at all and its bound a dark step can have any colour. How far that is from the target is tried at the
corners of the box of X, Y, Z that it may be in: near black CIELAB is linear, so the farthest light is at a corner.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.colour.target import Target
from benchd.analysis.log.step_data import StepData
from benchd.analysis.results import Chromaticity
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.sources import OfLight, stated

Array = colour.Array


class GreyReading(NamedTuple):
    """One grey step as it was measured."""

    measured: StepData
    luminance: Quantity
    chromaticity: Chromaticity


def dark_lights(readings: Sequence[GreyReading], target: Target) -> Array | None:
    """Lights (8, n, 3) at the corners of what each dark step may be, in cd/m2; NaN for steps that are no bounds.

    X and Z reach to the ends of their own intervals, and where the meter gave no figures to what the most colourful
    primary of the target has beside as much Y. None where no step is a bound.
    """
    ends = np.full((len(readings), 3), np.nan)
    for row, one in enumerate(readings):
        if one.luminance.bound == "below" and one.luminance.value is not None:
            ends[row] = _ends(one, target)
    if np.isnan(ends).all():
        return None
    corners = np.array(list(itertools.product((0.0, 1.0), repeat=3)))
    return np.asarray(corners[:, None, :] * ends[None, :, :], dtype=np.float64)


def _ends(one: GreyReading, target: Target) -> tuple[float, float, float]:
    most = one.luminance.value or 0.0
    if one.measured.mean is not None and not one.measured.under:
        of_x = OfLight(one.measured, (1.0, 0.0, 0.0)).contributions()
        of_z = OfLight(one.measured, (0.0, 0.0, 1.0)).contributions()
        if of_x is not None and of_z is not None:
            x, _, z = one.measured.mean
            return stated(max(x, 0.0), of_x).high, most, stated(max(z, 0.0), of_z).high
    primaries = colour.xyz_from_xy(np.array([target.red, target.green, target.blue]), most)
    x, _, z = primaries.max(axis=0).tolist()
    return x, most, z


def largest_differences(
    pairs: Callable[..., tuple[Array, Array]], dark: Array | None, lights: Sequence[Array]
) -> Array:
    """Largest CIEDE2000 (n,) of each dark step over the corners in ``dark``; NaN elsewhere.

    ``pairs`` makes L*, a*, b* of goals and lights as in `uncertainty.colour_clouds`; ``lights`` judge all.
    """
    if dark is None:
        return np.zeros(0)
    return np.asarray(np.max([colour.delta_e_2000(*pairs(corner, *lights)) for corner in dark], axis=0))


def bound_of(figure: Quantity, most: float) -> Quantity:
    """The absent ``figure`` of a dark step as a bound; as it is where ``most`` can't be computed."""
    if figure.present or not np.isfinite(most):
        return figure
    why = "its luminance is only known to be below a bound, so its difference is too"
    return figure._replace(value=most, bound="below", status="under", why=why)
