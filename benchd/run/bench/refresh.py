"""Integration that lasts whole frames of the display, so that its refresh leaves no beat in a reading. Pure.

A light that swings with the refresh averages out over whole periods. An even number of frames also covers what
happens at half the rate (inversion of the cells, black frames put in between); 200 ms at least is common practice.
"""

from __future__ import annotations

import math

SHORTEST_S = 0.2
FRAMES = 2
"""A multiple of so many frames."""
ROUNDING = 1e-6
"""A whole number that lost its last bits by a division is still one."""


def synchronised(integration_s: float, refresh_hz: float) -> float:
    """The shortest time not below ``integration_s`` and 200 ms that is a multiple of two frames.

    Raises ValueError for a time or a rate that is not above zero.
    """
    if not (integration_s > 0.0 and refresh_hz > 0.0):
        raise ValueError("an integration takes time, and a refresh has a rate above zero")
    pairs = max(integration_s, SHORTEST_S) * refresh_hz / FRAMES
    return FRAMES * math.ceil(pairs - ROUNDING * max(1.0, pairs)) / refresh_hz


def longest_within(integration_s: float, refresh_hz: float) -> float:
    """The longest multiple of two frames that is not above ``integration_s``; `synchronised` where none is."""
    minimum_s = synchronised(SHORTEST_S, refresh_hz)
    if integration_s <= minimum_s:
        return minimum_s
    pairs = integration_s * refresh_hz / FRAMES
    return FRAMES * math.floor(pairs + ROUNDING * pairs) / refresh_hz
