"""The simulated bench as physics: one display, one meter in front of it, and the time of that small world.

No input, no output, no wall clock. The companion process (`sim.bench`), the tests (`sim.inprocess`) and the
truth (`sim.truth`) all use this one model.
"""

from __future__ import annotations

import heapq
import math
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass
from itertools import count
from typing import Literal, NamedTuple

from sim.displays import Amounts, Display
from sim.flicker import Flicker
from sim.hdr import HdrTuned, Zones
from sim.light_drift import LightDrift
from sim.picture import BLACK, Picture, Place
from sim.room import Room
from sim.sensor import Noise, NoiseMode, SensorModel
from sim.settings import FROM_THE_BOX, Settings, Tuned
from sim.spectra import Triple, observer

MOVE_S = 2.0
"""How long a mover takes from one place to the next."""

SETTLED_TAUS = 16.0
"""A transition is over after so many time constants (what is left, 1e-7 of the step, is then dropped)."""

UNSTABLE = 0.05
"""The meter calls a reading unstable when its light changed by more than this fraction while it integrated."""

CENTRE: Place = (0.5, 0.5)
DRIFT_PERIOD_S = 3.0 * 3600.0

Drive = tuple[float, float, float, float, float, float, float, float, float]
"""Linear light of red, green, blue at a place; their means over the screen; gain left by limiting; factor of the
brightness on the light of the channels and on the leak."""


class SimulatedReading(NamedTuple):
    """One reading of the simulated meter. ``xyz`` in cd/m2, never negative, not yet rounded to an answer."""

    xyz: Triple
    status: Literal["ok", "under", "over", "unstable"]
    integration_s: float


@dataclass(frozen=True, slots=True, eq=False)
class _Shown:
    """A picture from a moment on; the same only as itself."""

    at_s: float
    picture: Picture
    mean: Triple
    gain: float
    tuned: Tuned


class Scene:
    """One display and one meter. All times are seconds of scene time; all places fractions of the screen.

    ``warm``: the display has been on for hours; else it was switched on at scene time 0.
    ``drift_percent``: amplitude of a slow swing of the display's luminance (period three hours).
    ``flicker``: how the light swings by itself; None: not at all.
    ``noise_correlation_s``: see `sim.sensor.Noise`. ``light_drift``: random walk and steps of the light, if any.
    """

    samples_in_transition = 32
    """Moments that a reading of a light on its way is averaged over."""

    def __init__(
        self,
        display: Display,
        sensor: SensorModel,
        *,
        seed: int = 0,
        noise: NoiseMode = "per-patch",
        warm: bool = True,
        drift_percent: float = 0.0,
        flicker: Flicker | None = None,
        noise_correlation_s: float = 0.0,
        light_drift: LightDrift | None = None,
    ) -> None:
        self.display, self.sensor = display, sensor
        self.now_s = 0.0
        self.on_time: Callable[[float], None] = lambda now_s: None
        """Called with the new time whenever time has passed."""
        self.place: Place = CENTRE
        self.room = Room()
        self.capped = self.dark = False
        """The meter has its cap on; the display is switched off."""
        self._noise = Noise(noise, seed, noise_correlation_s)
        self._light_drift = light_drift
        self._warm, self._drift = warm, drift_percent / 100.0
        self.flicker = flicker
        self._filters = display.seen_through(observer(sensor.filter_shift_nm))
        self._observer = display.seen_through(observer())
        self._tunings: dict[Settings, Tuned] = {}
        self._tuned = self._tuning(FROM_THE_BOX)
        self._planned: list[tuple[float, int, Callable[[], None]]] = []
        self._numbers = count()
        self._history = [self._entry(BLACK, -math.inf)]
        self._since_shown = 0
        self._drives: dict[tuple[_Shown, Place, tuple[float, float] | None], Drive] = {}
        self._kept_since = self._history[0]
        model = display.model
        self._zones = Zones(model.hdr) if model.hdr is not None and model.hdr.zones is not None else None
        slow_s = model.slow_tau_s if model.slow_share else 0.0
        dimming_s = model.dimming_tau_s if model.dimmed < 1.0 else 0.0
        self._longest_s = SETTLED_TAUS * max(
            model.rise_tau_s, model.fall_tau_s, model.limiting_tau_s, slow_s, dimming_s
        )

    # what happens to it

    @property
    def picture(self) -> Picture:
        """What is on the screen now."""
        return self._history[-1].picture

    @property
    def settings(self) -> Settings:
        """The display's picture settings now."""
        return self._tuned.settings

    def set(self, settings: Settings) -> None:
        """Set the display; it begins to settle towards what the picture looks like then."""
        if settings != self.settings:
            self._tuned = self._tuning(settings)
            self.show(self.picture)

    def at(self, when_s: float, action: Callable[[], None]) -> None:
        """Let something happen at a moment of scene time; at once when that is past."""
        heapq.heappush(self._planned, (when_s, next(self._numbers), action))
        self.reach(self.now_s)

    def advance(self, seconds: float) -> None:
        """Let time pass. Raises ``ValueError`` for a negative time."""
        if not seconds >= 0.0:
            raise ValueError("scene time never goes back")
        self.reach(self.now_s + seconds)

    def reach(self, now_s: float) -> None:
        """Let it be ``now_s``; what was planned until then happens at its own moment."""
        while self._planned and self._planned[0][0] <= now_s:
            when_s, _, action = heapq.heappop(self._planned)
            self.now_s = max(self.now_s, when_s)
            action()
        self.now_s = now_s
        self.on_time(now_s)

    def show(self, picture: Picture) -> None:
        """Put a picture on the screen; the display begins to settle towards it."""
        if self.now_s - self._history[-1].at_s >= self._longest_s:
            del self._history[:-1]
        self._history.append(self._entry(picture, self.now_s))
        del self._history[:-64]
        self._since_shown = 0

    def move(self, x: float, y: float) -> None:
        """Put the meter in front of another place. Raises ``ValueError`` outside the screen."""
        if not (0.0 <= x <= 1.0 and 0.0 <= y <= 1.0):
            raise ValueError(f"the place {x}, {y} is not on the screen")
        self.place = (x, y)

    def be_at(self, place: str, x: float, y: float) -> None:
        """As `move`, or by the operator: ``capped`` (the meter's cap is on), ``screen-off`` (no light of its own)."""
        self.capped, self.dark = place == "capped", place == "screen-off"
        if not (self.capped or self.dark):
            self.move(x, y)

    # what the meter sees

    def choose_integration_s(self) -> float:
        """The integration time that the meter would choose now."""
        return self.sensor.integration_s(self.room.seen(self._xyz(self._light_at(self.now_s), self._filters))[1])

    def peek(self, at_s: float) -> Triple:
        """XYZ in cd/m2 of what the meter would see at a moment, without noise."""
        return self.room.seen(self._xyz(self._light_at(at_s), self._filters))

    @property
    def settles_within_s(self) -> float:
        """Time after which nothing of a change of picture is left."""
        return self._longest_s

    def take(self, integration_s: float | None = None) -> SimulatedReading:
        """One reading that starts now; scene time goes on by the integration time."""
        duration_s = self.choose_integration_s() if integration_s is None else integration_s
        start_s = self.now_s
        self.advance(duration_s)
        return self.measure(start_s, duration_s)

    def measure(self, start_s: float, integration_s: float) -> SimulatedReading:
        """The reading over a window of scene time that is already past (or just passing)."""
        if not integration_s > 0.0:
            raise ValueError("an integration takes time")
        light, swing = self._light_between(start_s, integration_s)
        if self.flicker is not None:
            share = self.flicker.mean(start_s, integration_s)
            light = (share * light[0], share * light[1], share * light[2], share * light[3])
        if self.dark:
            light = (0.0, 0.0, 0.0, 0.0)
        clean = (0.0, 0.0, 0.0) if self.capped else self.room.seen(self._xyz(light, self._filters))
        gauss = self._noise.draw(self._digest(), self.place, self._since_shown, start_s)
        self._since_shown += 1
        noisy = self.sensor.disturbed(clean, integration_s, gauss)
        xyz = (max(noisy[0], 0.0), max(noisy[1], 0.0), max(noisy[2], 0.0))
        if noisy[1] > self.sensor.ceiling_cd_m2:
            return SimulatedReading(xyz, "over", integration_s)
        if noisy[1] < self.sensor.floor_cd_m2:
            return SimulatedReading(xyz, "under", integration_s)
        return SimulatedReading(xyz, "unstable" if swing > UNSTABLE else "ok", integration_s)

    # what is true

    def truth(self, picture: Picture, place: Place = CENTRE) -> Triple:
        """XYZ in cd/m2 of a picture at a place, as it is set: settled, warm, without drift, noise or mismatch."""
        entry = self._entry(picture, 0.0)
        return self._xyz(self._emitted(self._target_at(entry, place), place), self._observer)

    # inside

    def _entry(self, picture: Picture, at_s: float) -> _Shown:
        mean = [0.0, 0.0, 0.0]
        for code, fraction in picture.coverage():
            for channel, light in enumerate(self._tuned.linear(code, picture.bits)):
                mean[channel] += fraction * light
        levels = (mean[0], mean[1], mean[2])
        power = self._tuned.backlight
        limit = self.display.limit((power * levels[0], power * levels[1], power * levels[2]))
        return _Shown(at_s, picture, levels, limit, self._tuned)

    def _tuning(self, settings: Settings) -> Tuned:
        if settings not in self._tunings:
            hdr = self.display.model.hdr
            self._tunings[settings] = (
                Tuned(self.display, settings) if hdr is None else HdrTuned(self.display, settings, hdr)
            )
        return self._tunings[settings]

    def _digest(self) -> str:
        """The same for the same picture under the same settings."""
        digest = self.picture.digest
        return digest if self.settings == FROM_THE_BOX else f"{digest}|{self.settings}"

    def _target(self, entry: _Shown) -> Drive:
        """Where the light of a picture goes at the meter's place."""
        return self._kept((entry, self.place, None), lambda: self._target_at(entry, self.place))

    def _kept(self, key: tuple[_Shown, Place, tuple[float, float] | None], make: Callable[[], Drive]) -> Drive:
        """What was computed already, while the history begins with the same picture."""
        if self._kept_since is not self._history[0]:
            self._kept_since = self._history[0]
            self._drives.clear()
        if key not in self._drives:
            self._drives[key] = make()
        return self._drives[key]

    def _target_at(self, entry: _Shown, place: Place) -> Drive:
        local = entry.tuned.linear(entry.picture.code_at(place), entry.picture.bits)
        leak = entry.tuned.leak
        if self._zones is not None:
            leak *= self._zones.at(entry.picture, entry.tuned, place)
        elif max(local) == 0.0:
            leak *= self.display.model.dimmed
        return (*local, *entry.mean, entry.gain, entry.tuned.backlight, leak)

    def _drive(self, at_s: float) -> Drive:
        """Where the display's light is at a moment: each channel on its way to each picture in turn."""
        model = self.display.model
        drive = self._followed(at_s, model.rise_tau_s, model.fall_tau_s)
        if not model.slow_share:
            return drive
        slow, share = self._followed(at_s, model.slow_tau_s, model.slow_tau_s), model.slow_share
        mixed = [(1.0 - share) * one + share * other for one, other in zip(drive[:6], slow[:6], strict=True)]
        return (mixed[0], mixed[1], mixed[2], mixed[3], mixed[4], mixed[5], drive[6], drive[7], drive[8])

    def _followed(self, at_s: float, rise_tau_s: float, fall_tau_s: float) -> Drive:
        """The same with one pair of time constants for the channels."""
        number = bisect_right(self._history, at_s, key=lambda entry: entry.at_s) - 1
        if number <= 0:
            return self._target(self._history[0])
        return self._moved(self._begin(number, rise_tau_s, fall_tau_s), number, at_s, rise_tau_s, fall_tau_s)

    def _begin(self, number: int, rise_tau_s: float, fall_tau_s: float) -> Drive:
        """Where the light is when a picture of the history begins."""
        if number == 1:
            return self._target(self._history[0])

        def make() -> Drive:
            begin = self._begin(number - 1, rise_tau_s, fall_tau_s)
            return self._moved(begin, number - 1, self._history[number].at_s, rise_tau_s, fall_tau_s)

        return self._kept((self._history[number], self.place, (rise_tau_s, fall_tau_s)), make)

    def _moved(self, drive: Drive, number: int, until_s: float, rise_tau_s: float, fall_tau_s: float) -> Drive:
        """From ``drive`` towards a picture of the history, from its begin to a moment."""
        model, entry = self.display.model, self._history[number]
        elapsed_s, target = until_s - entry.at_s, self._target(entry)
        if elapsed_s >= self._longest_s:
            return target
        taus_s = [rise_tau_s if goal > value else fall_tau_s for value, goal in zip(drive[:6], target[:6], strict=True)]
        taus_s += [model.limiting_tau_s, model.limiting_tau_s, model.dimming_tau_s or model.limiting_tau_s]
        a, b, c, d, e, f, g, h, i = (
            _approach(value, goal, elapsed_s, tau_s) for value, goal, tau_s in zip(drive, target, taus_s, strict=True)
        )
        return a, b, c, d, e, f, g, h, i

    def _emitted(self, drive: Drive, place: Place) -> Amounts:
        red, green, blue, leak = self.display.falloff(place)
        gain, glare = drive[6] * drive[7], self.display.model.glare
        own = gain * (1.0 - glare)
        veil = gain * glare
        return (
            red * (own * drive[0] + veil * drive[3]),
            green * (own * drive[1] + veil * drive[4]),
            blue * (own * drive[2] + veil * drive[5]),
            leak * drive[8],
        )

    def _light_at(self, at_s: float) -> Amounts:
        light = self._emitted(self._drive(at_s), self.place)
        if self.display.model.hdr is not None:
            left = self._left_by_heat(at_s)
            light = (left * light[0], left * light[1], left * light[2], light[3])
        if self._warm and not self._drift and self._light_drift is None:
            return light
        drifted = self._light_drift.factor(at_s) if self._light_drift is not None else 1.0
        swing = drifted * (1.0 + self._drift * math.sin(2.0 * math.pi * at_s / DRIFT_PERIOD_S))
        warm = (1.0, 1.0, 1.0, 1.0) if self._warm else self.display.warm_up(at_s)
        red, green, blue, leak = (swing * gain * value for gain, value in zip(warm, light, strict=True))
        return red, green, blue, leak

    def _left_by_heat(self, at_s: float) -> float:
        """What is left of the light of a picture that has been on for a while; a new picture begins cool."""
        hdr = self.display.model.hdr
        assert hdr is not None
        entry = next((one for one in reversed(self._history) if one.at_s <= at_s), self._history[0])
        load = entry.gain * sum(w * level for w, level in zip(self.display.weights, entry.mean, strict=True))
        return 1.0 - hdr.heat_loss * load * (1.0 - math.exp(-(at_s - entry.at_s) / hdr.heat_tau_s))

    def _light_between(self, start_s: float, duration_s: float) -> tuple[Amounts, float]:
        """Mean light over a window, and by which fraction it swung while it lasted."""
        stop_s = start_s + duration_s
        calm_s = self._history[-1].at_s + self._longest_s
        if calm_s <= start_s:
            return self._light_at((start_s + stop_s) / 2.0), 0.0
        restless_s = min(stop_s, calm_s) - start_s
        step_s = restless_s / self.samples_in_transition
        samples = [(step_s, self._light_at(start_s + (i + 0.5) * step_s)) for i in range(self.samples_in_transition)]
        if calm_s < stop_s:
            samples.append((stop_s - calm_s, self._light_at((calm_s + stop_s) / 2.0)))
        red, green, blue, leak = (
            sum(weight_s * light[i] for weight_s, light in samples) / duration_s for i in range(4)
        )
        mean = (red, green, blue, leak)
        average = self._xyz(mean, self._filters)[1]
        luminances = [self._xyz(light, self._filters)[1] for _, light in samples]
        return mean, (max(luminances) - min(luminances)) / average if average else 0.0

    @staticmethod
    def _xyz(light: Amounts, seen: tuple[Triple, Triple, Triple, Triple]) -> Triple:
        red, green, blue, leak = light
        x, y, z = (red * r + green * g + blue * b + leak * k for r, g, b, k in zip(*seen, strict=True))
        return x, y, z


def _approach(value: float, goal: float, elapsed_s: float, tau_s: float) -> float:
    """Exponential approach, exactly at the goal once `SETTLED_TAUS` have passed."""
    if value == goal or elapsed_s >= SETTLED_TAUS * tau_s:
        return goal
    return goal + (value - goal) * math.exp(-elapsed_s / tau_s)
