"""Colour differences of HDR (ITU-R BT.2124-0) of measured lights from exact aims, with their uncertainty."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from benchd.analysis import itp
from benchd.analysis.cloud import Cloud
from benchd.analysis.survey import Measured, Triple
from benchd.analysis.uncertainty import Node, OfLight


def grey_xyz(luminance: float) -> Triple:
    """XYZ of a grey of D65."""
    x, y = itp.D65
    return (x / y * luminance, luminance, (1.0 - x - y) / y * luminance)


def difference_from(lights: Sequence[Measured], aims: Sequence[Triple]) -> tuple[list[float], Cloud]:
    """Delta E ITP of each light from its exact aim (XYZ), and the cloud that knows its uncertainty."""
    means = np.array([one.mean for one in lights])
    values, gradients = itp.scaled_with_slopes(means)
    aimed, _ = itp.scaled_with_slopes(np.array(aims))
    apart = values - aimed
    nodes: list[list[Node]] = []
    for light, rows in zip(lights, gradients.tolist(), strict=True):
        nodes.append([OfLight(light, (row[0], row[1], row[2])) for row in rows])
    return np.sqrt((apart**2).sum(axis=-1)).tolist(), Cloud(apart, nodes)
