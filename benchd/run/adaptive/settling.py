"""When a patch has settled: from what was learned of the panel, and from the patch's own readings.

A panel's settling is learned by kind of change (`Kind`) before it is trusted: the readings of every patch, counted or
not, are pooled per kind as shares of the steps that caused them (`adaptive.settling_model`). A patch counts from when

- what is known leaves at most ``tolerance`` of its light, and what could be hidden from it at most ``hidden``; or its
  own readings show it by themselves, which takes up to half a minute where nothing is known yet; and
- its own readings show no settling that leaves more.

Steps add up: a patch that follows others soon still holds what those have left, so they are remembered, each fading
with every time constant. The first and largest changes of a run, or those of its warm-up, give the model; steps that
are small beside the light that they lead to need little knowledge. Pure.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from copy import copy
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from benchd.run.adaptive.settling_model import (
    MODEL,
    ONES,
    TAUS_S,
    Bin,
    Parts,
    SettlingCurve,
    mean_left,
    means_left,
    most_hidden,
)

if TYPE_CHECKING:
    from benchd.run.adaptive.least_squares import Sums

SLACK = 1.15
"""Factor on time for what is known from other patches: panels settle differently fast by level."""
LARGE = 0.25
"""Share of the brightest light from which on a fall to black shows how zones dim."""
PURE = 0.1
"""A patch characterises one kind of change where the others are at most this share of it."""
LEAD_IN_TAUS = 6.0
NEAR_S = 15.0
"""How far ahead it is looked for when a patch will have settled."""

DIM = 0.01
"""Share of the brightest light up to which a fall to black is one from a dark patch."""

Kind = Literal["up", "down", "dims", "lights", "fades"]
"""Brighter; darker; darker to a dark patch, where dimming zones follow; a dark patch after black, where they wake;
black after a dark patch, which shows what the zones do and little else."""

Steps = dict[Kind, tuple[float, ...]]
"""R_k for each time constant, in cd/m2, by kind."""


class TimedReading(NamedTuple):
    """One reading: the end of its light since the patch was shown, how long it took, and its luminance."""

    end_s: float
    took_s: float
    luminance_cd_m2: float


class LevelChange(NamedTuple):
    """What a new patch changes at the meter, in cd/m2."""

    up: float
    down: float
    dark: bool = False
    from_black: bool = False
    to_black: bool = False
    either: bool = False
    """One of the two and not known which, instead of both: they do not make good for each other."""


class PanelModel:
    """What is known of how this panel settles, and what its last changes may have left."""

    def __init__(self) -> None:
        self._sums: dict[Kind, Sums] = {}
        self._curves: dict[Kind, SettlingCurve] = {}
        self._risen = self._fallen = (0.0,) * len(TAUS_S)
        self._late = self._risen, self._fallen  # the same where all goes slower by `SLACK`
        self._faded_cd_m2 = 0.0  # the largest step that gave "fades"
        self._woken = False  # whether a rise from black gave "up"
        self.brightest_cd_m2 = 0.0
        self.unlike = 1.0
        """Factor on what shares are uncertain by: how unlike the changes of this panel settle, found in the warm-up."""

    def copy(self) -> PanelModel:
        """One that learns by itself from here on."""
        other = copy(self)
        other._sums, other._curves = dict(self._sums), dict(self._curves)
        return other

    def sums(self, kind: Kind) -> Sums:
        """What was pooled; a fall to a lighter patch uses what falls to dark ones gave, which resolve far finer."""
        own = self._sums.get(kind) or _sums_of()
        if kind == "down" and "dims" in self._sums:
            return own.with_steps(self._sums["dims"], ONES, 1.0)
        return own

    def curve(self, kind: Kind) -> SettlingCurve:
        """What is known of a kind of change."""
        if kind not in self._curves:
            found = self.sums(kind).curve
            if kind == "fades":  # no zone does more than behind the largest fall, which was watched for longer
                found = found.within(self.sums("dims").curve)
            self._curves[kind] = found
        return self._curves[kind]

    def steps(self, change: LevelChange) -> Steps:
        """What there is to settle where its parts are known: rises and falls each by themselves."""
        risen, fallen = (self._risen, self._fallen) if change.up or change.down else self._late
        up, down = (tuple(change.up + faded for faded in risen), tuple(change.down + faded for faded in fallen))
        return self._by_kind(change, up, down)

    def side(self, change: LevelChange) -> float:
        """-1 where the light is below its end while it settles, after a rise; 1 where above; 0 where not known."""
        net = sum(self._risen) - sum(self._fallen) + len(TAUS_S) * (change.up - change.down)
        return 0.0 if change.either or not net else math.copysign(1.0, -net)

    def _net(self, change: LevelChange) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """The same where nothing is known of them: a step back takes away what the step there has left."""
        rest = [risen - fallen for risen, fallen in zip(self._risen, self._fallen, strict=True)]
        if change.up > 0.0 and change.down > 0.0:  # other channels, which do not make good for each other
            return (
                tuple(change.up + max(one, 0.0) for one in rest),
                tuple(change.down + max(-one, 0.0) for one in rest),
            )
        net = [one + change.up - change.down for one in rest]
        return tuple(max(one, 0.0) for one in net), tuple(max(-one, 0.0) for one in net)

    def _by_kind(self, change: LevelChange, up: tuple[float, ...], down: tuple[float, ...]) -> Steps:
        top = (max(self.brightest_cd_m2, change.up, change.down),) * len(TAUS_S)
        if not change.dark:
            found: Steps = {"up": up, "down": down}
            if change.from_black and (change.up < LARGE * top[0] or "lights" in self._sums or not self._woken):
                found["lights"] = top
        else:
            moves = change.up > 0.0 or change.down > 0.0
            wakes = change.from_black and not change.to_black
            # A zone that dims behind black does so whatever little was shown before: as from the brightest.
            if change.to_black and moves and change.down <= self._faded_cd_m2:
                found = {"fades": top, "dims": down}
            else:
                found = {"dims": top if change.to_black and moves else down}
            found["lights" if wakes else "up"] = top if wakes else up
        return {kind: steps for kind, steps in found.items() if max(steps) > 0.0}

    def characterises(self, change: LevelChange) -> tuple[Kind, tuple[float, ...]] | None:
        """The kind of change in a patch's readings, if it is one, and its steps (of either sign)."""
        large, small = max(change.up, change.down), min(change.up, change.down)
        if large <= 0.0 or small > PURE * large:
            return None
        sign = 1.0 if change.up > change.down else -1.0
        rest = (risen - fallen for risen, fallen in zip(self._risen, self._fallen, strict=True))
        steps = tuple(sign * (one + change.up - change.down) for one in rest)
        if not change.dark:
            if change.from_black and large < LARGE * self.brightest_cd_m2:
                return None
            return ("up" if sign > 0.0 else "down"), steps
        if change.from_black and not change.to_black:
            return "lights", (max(self.brightest_cd_m2, large),) * len(TAUS_S)
        if sign > 0.0:
            return "up", steps
        if change.to_black and large <= DIM * self.brightest_cd_m2:
            return "fades", (self.brightest_cd_m2,) * len(TAUS_S)
        return None if change.to_black and large < LARGE * self.brightest_cd_m2 else ("dims", steps)

    def speaks_of(self, change: LevelChange) -> tuple[Kind, tuple[float, ...]] | None:
        """The same for judging a patch itself: a small fall to black shows zones that dim, if little else."""
        if change.to_black and 0.0 < change.down < LARGE * self.brightest_cd_m2 and change.up <= PURE * change.down:
            return "dims", (self.brightest_cd_m2,) * len(TAUS_S)
        return self.characterises(change)

    def take(
        self,
        change: LevelChange,
        bins: Sequence[Bin],
        per_second: float,
        lit_s: float,
        brightest: float,
        model: float = MODEL,
    ) -> None:
        """A patch is done: take in its readings, and for how long it was on the screen."""
        known = self.characterises(change)
        if known is not None and bins and per_second > 0.0:
            kind, steps = known
            own = _sums_of(bins, per_second, model * self.unlike)
            self._woken = self._woken or (kind == "up" and change.from_black)
            if kind == "fades":
                self._faded_cd_m2 = max(self._faded_cd_m2, change.down)
            self._sums[kind] = (self._sums.get(kind) or _sums_of()).with_steps(own, steps, sign_of(kind))
            self._curves.clear()
        self.show(change, lit_s)
        self.brightest_cd_m2 = max(self.brightest_cd_m2, brightest)

    def show(self, change: LevelChange, lit_s: float) -> None:
        """A patch was on the screen for a while."""
        fades = means_left(lit_s, lit_s)
        late = tuple(mean_left(SLACK * tau_s, lit_s, lit_s) for tau_s in TAUS_S)
        self._late = _faded(self._late[0], change.up, late), _faded(self._late[1], change.down, late)
        self._risen, self._fallen = _faded(self._risen, change.up, fades), _faded(self._fallen, change.down, fades)

    @property
    def misfit(self) -> float:
        """The largest of any kind: mean square of what its parts leave, over what they may."""
        return max((sums.misfit(sums.curve.parts) for sums in self._sums.values()), default=1.0)

    @property
    def slowest_s(self) -> float:
        """How long a patch is shown that only leads in to another: the slowest change that was seen is then over."""
        seen = [TAUS_S[index] for kind in self._sums for index, _ in self.curve(kind).parts]
        return LEAD_IN_TAUS * max(seen, default=0.0)

    def outlook(self, change: LevelChange) -> Outlook:
        """What is left of a change, by what is known now."""
        ways = [change._replace(down=0.0), change._replace(up=0.0)] if change.either else [change]
        curves = [
            [(sign_of(kind) > 0.0, steps, self.curve(kind).variants) for kind, steps in self.steps(way).items()]
            for way in ways
        ]
        unseen = self._by_kind(change, *self._net(change))
        return Outlook(curves, [self.curve(kind).hides(steps) for kind, steps in unseen.items()])


def _faded(left: Sequence[float], step: float, fades: Sequence[float]) -> tuple[float, ...]:
    return tuple(fade * (one + step) for fade, one in zip(fades, left, strict=True))


_Part = tuple[bool, Sequence[float], Sequence[Parts]]
"""Of one kind of change: whether it lies above the end, its steps, and the variants of what was seen."""


class Outlook:
    """What a change leaves to settle, by what is known of the panel: made once, used for many windows."""

    def __init__(self, ways: Sequence[Sequence[_Part]], unseen: Sequence[Sequence[tuple[int, float]]]) -> None:
        """``ways``: one of these; ``unseen``: by kind of change, what could be hidden (`SettlingCurve.hides`)."""
        self._unseen = unseen
        every = [part for curves in ways for part in curves]
        self._seen = sorted({index for _, _, variants in every for parts in variants for index, _ in parts})
        variants = max((len(variants) for _, _, variants in every), default=0)
        self._lasting = [_lasting(curves, variant) for curves in ways for variant in range(variants)]

    def left(self, scale: float, from_s: float, to_s: float) -> tuple[float, float]:
        """Over a window, relative to ``scale``: what was seen, and what could be hidden."""
        usual = means_left(from_s, to_s)
        slow = {index: mean_left(SLACK * TAUS_S[index], from_s, to_s) for index in self._seen}
        left = max((_left(parts, slow, usual) for parts in self._lasting), default=0.0)
        return left / scale, sum(most_hidden(sizes, usual) for sizes in self._unseen) / scale

    def seconds_until(self, scale: float, now_s: float, for_s: float, tolerance: float, hidden: float) -> float | None:
        """When, from ``now_s`` on, what is known suffices; None when not within `NEAR_S`."""

        def suffices(at_s: float) -> bool:
            left = self.left(scale, at_s, at_s + for_s)
            return left[0] <= tolerance and left[1] <= hidden

        if suffices(now_s):
            return now_s
        low, high = now_s, now_s + NEAR_S
        if not suffices(high):
            return None
        while high - low > max(0.002, 0.01 * (high - now_s)):
            middle = (low + high) / 2.0
            low, high = (low, middle) if suffices(middle) else (middle, high)
        return high


_FALL, _RISE, _OVER = 0, 1, 2
"""Where a part counts: with the fall, with the rise, or with what of each swings over."""


_Lasting = tuple[int, float, int]
"""Where a part counts, its size at the begin, its time constant's index."""


def _lasting(curves: Sequence[_Part], variant: int) -> list[_Lasting]:
    """The parts of one variant of every kind."""
    found = []
    for above, steps, variants in curves:
        for index, share in variants[min(variant, len(variants) - 1)]:
            if step := steps[index]:
                found.append(((_FALL if above else _RISE) + (0 if share > 0.0 else _OVER), abs(share * step), index))
    return found


def _left(
    parts: Sequence[tuple[int, float, int]], slow_left: Mapping[int, float], usual_left: Sequence[float]
) -> float:
    """What is left of the parts, at most.

    A rise and a fall make good for each other, as those of other channels do, but each may be slower by `SLACK`.
    What swings over goes by itself: how far it compensates what it swings over from depends on the moment.
    """
    slow, usual = [0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 0.0, 0.0]
    for at, size, index in parts:
        slow[at] += size * slow_left[index]
        usual[at] += size * usual_left[index]
    return max(
        abs(fall[0] - rise[1]) + abs(fall[2] - rise[3]) for fall, rise in ((slow, slow), (slow, usual), (usual, slow))
    )


def _sums_of(bins: Sequence[Bin] = (), per_second: float = 0.0, model: float = MODEL) -> Sums:
    """Of one patch's readings, or of none. The first use loads the numbers' library, which most plans do not need."""
    from benchd.run.adaptive.least_squares import Sums

    return Sums.of(bins, per_second, model)


def sign_of(kind: Kind) -> float:
    """What is left lies above the end after a fall, below it after a rise."""
    return 1.0 if kind in ("down", "dims", "fades") else -1.0


class OwnReadings:
    """What a patch's own readings show, alone and with what is known."""

    def __init__(self, panel: PanelModel, change: LevelChange | None, bins: Sequence[Bin], per_second: float) -> None:
        self._panel, self._change = panel, change
        self._sums = _sums_of(bins, per_second, MODEL * panel.unlike)
        self._joint: tuple[SettlingCurve, tuple[float, ...]] | None = None
        known = panel.speaks_of(change) if change is not None else None
        learned_of = panel.characterises(change) if change is not None else None
        self.characterises = (
            known is not None
            and learned_of is not None
            and learned_of[0] == known[0] != "fades"
            and max(map(abs, known[1])) >= LARGE * panel.brightest_cd_m2
        )
        """True when the change is large enough to characterise smaller ones of its kind."""
        if known is not None:
            kind, steps = known
            self._joint = panel.sums(kind).with_steps(self._sums, steps, sign_of(kind)).curve, steps

    def left(self, scale: float, from_s: float, to_s: float) -> float:
        """What its readings show to be left over a window, relative."""
        return self._sums.curve.left(ONES, from_s, to_s) / scale

    def shown(self, scale: float, from_s: float, to_s: float) -> float:
        """The same as a minimum: what contradicts an expectation."""
        return self._sums.curve.shown(from_s, to_s) / scale

    def hidden(self, scale: float, from_s: float, to_s: float) -> float:
        """What they may hide."""
        return self._sums.curve.hidden(ONES, from_s, to_s) / scale

    def joint(self, scale: float, from_s: float, to_s: float) -> tuple[float, float] | None:
        """Seen and hidden by what is known and these readings together, where they show one kind of change."""
        if self._joint is None:
            return None
        curve, steps = self._joint
        return curve.left(steps, from_s, to_s) / scale, curve.hidden(steps, from_s, to_s) / scale


def per_second_seen(readings: Sequence[TimedReading]) -> float:
    """Variance x time from differences of neighbours, which a slow trend hardly moves (von Neumann et al. 1941)."""
    squares = [
        (second.luminance_cd_m2 - first.luminance_cd_m2) ** 2 / (1.0 / first.took_s + 1.0 / second.took_s)
        for first, second in pairwise(readings)
    ]
    return sum(squares) / len(squares) if squares else 0.0


def as_body(change: LevelChange, bins: Sequence[Bin], per_second: float) -> dict[str, Any]:
    """For the log: from this a resumed run learns the same."""
    return {
        "change": [float(f"{change.up:.6g}"), float(f"{change.down:.6g}"), *change[2:]],
        "per_second": float(f"{per_second:.6g}"),
        "bins": [[round(one.from_s, 4), round(one.to_s, 4), round(one.took_s, 4), one.luminance_cd_m2] for one in bins],
    }


def from_body(body: dict[str, Any]) -> tuple[LevelChange, list[Bin], float]:
    """From the log."""
    return LevelChange(*body["change"]), [Bin(*one) for one in body["bins"]], float(body["per_second"])
