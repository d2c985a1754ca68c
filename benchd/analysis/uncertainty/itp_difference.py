"""Colour differences of HDR (ITU-R BT.2124-0) of measured lights from their aims, with their uncertainty."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np

from benchd.analysis.colour import itp
from benchd.analysis.log.step_data import StepData
from benchd.analysis.uncertainty.cloud import Cloud
from benchd.analysis.uncertainty.quantity import Quantity, absent, composed
from benchd.analysis.uncertainty.sources import Node, OfLight, Sum, Triple

Leaning = Sequence[tuple[float, Node]]
"""How the luminance of an aim follows figures that were measured: (its derivative by the figure, what moves that)."""


def grey_xyz(luminance: float) -> Triple:
    """XYZ of a grey of D65."""
    x, y = itp.D65
    return (x / y * luminance, luminance, (1.0 - x - y) / y * luminance)


def delta_e_itp_cloud(
    lights: Sequence[StepData], aims: Sequence[Triple], leaning: Sequence[Leaning] = ()
) -> tuple[list[float], Cloud]:
    """Delta E ITP of each light from its aim (XYZ), and the cloud that knows its uncertainty.

    An aim is exact, but for ``leaning``, one for each light: its luminance, the colour staying, follows figures that
    were measured, such as the screen's peak. What light and aim share then cancels.
    """
    values, gradients = itp.scaled_with_slopes(np.array([one.mean for one in lights]))
    aimed, of_aims = itp.scaled_with_slopes(np.array(aims))
    apart = values - aimed
    # Along a ray from black: d XYZ / d Y = XYZ / Y.
    rays = [np.array(aim) / aim[1] if aim[1] > 0.0 else np.zeros(3) for aim in aims]
    nodes: list[list[Node]] = []
    for row, light in enumerate(lights):
        own = [OfLight(light, (slope[0], slope[1], slope[2])) for slope in gradients[row].tolist()]
        by_luminance = (of_aims[row] @ rays[row]).tolist()
        moved = leaning[row] if leaning else ()
        nodes.append(
            [
                Sum(((1.0, node), *((-slope * by, figure) for by, figure in moved))) if moved else node
                for node, slope in zip(own, by_luminance, strict=True)
            ]
        )
    return np.sqrt((apart**2).sum(axis=-1)).tolist(), Cloud(apart, nodes)


def whole_delta_e_itp(
    parts: Sequence[Quantity], cloud: Cloud | None, whole: Literal["mean", "max"], nothing: str
) -> Quantity:
    """Mean or largest of differences; absent where one of them is, or for ``nothing`` where there are none."""
    values = [part.value for part in parts if part.value is not None]
    if not parts or len(values) < len(parts):
        return absent("1", next((part.why for part in parts if part.value is None), nothing))
    value = math.fsum(values) / len(values) if whole == "mean" else max(values)
    return composed(value, "1", parts, sources=None if cloud is None else cloud.over(whole))
