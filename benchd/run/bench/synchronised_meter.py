"""A meter whose readings last whole frames of the display, and what the log keeps of the display's flicker."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Literal

from benchd.clock import Deadline
from benchd.instruments.meter import Meter, MeterIdentity, Reading, ReadRequest
from benchd.profile.display_light import Flicker
from benchd.run.bench.refresh import longest_within, synchronised

Sync = Literal["auto", "refresh", "none"]


class SynchronisedMeter:
    """The meter behind it, read for multiples of two frames, 200 ms at least.

    A reading whose time the meter chooses by itself stays so; ``longest_s`` is the longest that can be set and
    ``resolution_s`` the smallest step of its times, so that the log has what the meter does.
    """

    def __init__(
        self, meter: Meter, refresh_hz: float, longest_s: float | None, resolution_s: float | None = None
    ) -> None:
        self._meter = meter
        self._refresh_hz = refresh_hz
        self._longest_s = longest_s
        self._resolution_s = resolution_s

    def identify(self) -> MeterIdentity:
        """As the meter behind it."""
        return self._meter.identify()

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        """One reading; raises what the meter behind it raises."""
        return self._meter.read(replace(request, integration_s=self._whole_frames(request.integration_s)), deadline)

    def close(self) -> None:
        """As the meter behind it."""
        self._meter.close()

    def _whole_frames(self, integration_s: float | None) -> float | None:
        if integration_s is None:
            return None
        wanted_s = synchronised(integration_s, self._refresh_hz)
        if self._longest_s is not None and wanted_s > self._longest_s:
            wanted_s = longest_within(self._longest_s, self._refresh_hz)
        step_s = self._resolution_s
        return wanted_s if step_s is None else round(round(wanted_s / step_s) * step_s, 9)


def described(flicker: Flicker | None, window_hz: float, sync: Sync) -> dict[str, Any]:
    """What the log's head keeps: rates, depths, where the refresh rate is from, and whether readings follow it.

    What the bench states takes precedence over what the window reads from the mode.
    """
    stated = flicker or Flicker()
    refresh_hz = stated.refresh_hz or window_hz or None
    return {
        "refresh_hz": refresh_hz,
        "refresh_from": "bench" if stated.refresh_hz else "screen mode" if window_hz else "not known",
        "refresh_depth": stated.refresh_depth,
        "dimming_hz": stated.dimming_hz,
        "dimming_duty": stated.dimming_duty if stated.dimming_hz else None,
        "synchronised": sync != "none" and refresh_hz is not None,
    }
