"""Grey steps held against a target: luminance, RGB balance, u', v', and CIEDE2000 under three named whites."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.colour.dark_steps import GreyReading, bound_of, dark_lights, largest_differences
from benchd.analysis.colour.target import Target
from benchd.analysis.colour.tone_curves import luminance_curve, needs_black
from benchd.analysis.log.step_data import StepData
from benchd.analysis.results import Chromaticity, DeltaE, StepColour, WhiteName
from benchd.analysis.uncertainty.averages import averages
from benchd.analysis.uncertainty.cloud import Cloud
from benchd.analysis.uncertainty.colour_clouds import delta_e_cloud
from benchd.analysis.uncertainty.exact_cloud import Lights
from benchd.analysis.uncertainty.quantity import (
    Quantity,
    absent,
    composed,
    composed_each,
    ratio,
    scaled,
)
from benchd.analysis.uncertainty.rounding import plain_text, rounded_outward
from benchd.analysis.uncertainty.sources import Node, OfLight, Sum

Array = colour.Array

FORMULA = "CIEDE2000 after ISO/CIE 11664-6, kL = kC = kH = 1"
RELATIVE: tuple[WhiteName, ...] = ("white_luminance", "white_measured")


def convention_of(block: Mapping[str, object]) -> WhiteName:
    """The convention of white that the plan chose for a block, as the log keeps it."""
    chosen: dict[object, WhiteName] = {"measured": "white_measured", "absolute": "absolute"}
    return chosen.get(block.get("white"), "white_luminance")


def conventions_for(primary: WhiteName) -> tuple[WhiteName, ...]:
    """Those that are computed: the absolute one only where the plan chose it."""
    return (*RELATIVE, primary) if primary not in RELATIVE else RELATIVE


Balance = tuple[Quantity, Quantity, Quantity]
"""Red, green and blue of a step."""


class Tracked(NamedTuple):
    """One grey step against the target; the fields are those of `results.GrayStep`."""

    target_luminance: Quantity
    luminance_error: Quantity
    rgb_balance: Balance
    delta_uv: Quantity
    delta_e: StepColour


class BlackCase(NamedTuple):
    """The black that a curve is computed with, and the words for it. None: the curve has no use for it."""

    words: str
    cd_m2: float | None


def black_cases(target: Target | None, black: Quantity) -> list[BlackCase]:
    """One case; two where the curve needs a black that is only an upper bound: zero, and the bound."""
    if target is None or not needs_black(target):
        return [BlackCase("the target's curve does not use black", None)]
    if black.value is None or black.bound == "above":
        return [BlackCase(f"black can't be used: {black.why}", None)]
    if black.bound is None:
        return [BlackCase(f"black as measured, {black.value:.4g} cd/m2", black.value)]
    bound = plain_text(rounded_outward(black.value, up=True))
    return [
        BlackCase(f"black taken as 0; it is only known to be below {bound} cd/m2", 0.0),
        BlackCase(f"black taken at its upper bound, {bound} cd/m2", black.value),
    ]


def track(
    readings: Sequence[GreyReading],
    target: Target | None,
    white: GreyReading | None,
    case: BlackCase,
    primary: WhiteName = "white_luminance",
) -> list[Tracked]:
    """Each reading against the target. Where the target or white can't be had, figures are absent with why."""
    if target is None:
        return [_untracked("no target was given", primary)] * len(readings)
    apart = colour.uv_from_xyz(_xyz(readings)) - colour.uv_from_xy(target.white)
    balance = _balance(readings, target)
    delta_uv = [
        composed(
            float(colour.distance(vector, 0.0)),
            "1",
            (one.chromaticity.u_prime, one.chromaticity.v_prime),
            sources=_length(vector, one.chromaticity),
        )
        for vector, one in zip(apart, readings, strict=True)
    ]

    def untracked(why: str) -> list[Tracked]:
        return [_untracked(why, primary, *both) for both in zip(delta_uv, balance, strict=True)]

    if white is None:
        return untracked("white was not measured in this block")
    if white.luminance.value is None or white.luminance.bound or white.measured.mean is None:
        return untracked(f"white can't be used: {white.luminance.why}")
    try:
        curve = luminance_curve(target, white.luminance.value, case.cd_m2)
    except ValueError as error:
        return untracked(f"the target's curve can't be computed: {error}")
    signal = np.array([one.measured.signal for one in readings])
    wanted = curve(signal)
    goals = _goal_sources(readings, target, white, case, signal)
    colours = _colour_differences(readings, target, white, case, primary)
    return [
        _tracked(one, white, float(wanted[i]), goals[i], balance[i], delta_uv[i], colours[i])
        for i, one in enumerate(readings)
    ]


def _balance(readings: Sequence[GreyReading], target: Target) -> list[Balance]:
    """R, G, B of each reading in the target's linear primaries over the reading's own luminance.

    A matter of its chromaticity alone: 1, 1, 1 is the target's white, however bright. c = M^-1 (X, Y, Z) / Y, with the
    derivatives (m - c e_Y) / Y for each row m of M^-1.
    """
    from_rgb = colour.rgb_to_xyz_matrix(target.red, target.green, target.blue, target.white)
    matrix = np.asarray(np.linalg.inv(from_rgb), dtype=np.float64)
    of_luminance = np.array([0.0, 1.0, 0.0])
    found: list[Balance] = []
    for one, xyz in zip(readings, _xyz(readings), strict=True):
        light = xyz[1] if xyz[1] > 0.0 else math.nan
        shares = matrix @ xyz / light
        slopes = (matrix - shares[:, None] * of_luminance) / light
        sources = [OfLight(one.measured, (float(x), float(y), float(z))) for x, y, z in slopes]
        red, green, blue = composed_each(shares.tolist(), "1", (one.chromaticity.x,), sources)
        found.append((red, green, blue))
    return found


def _length(vector: Array, chromaticity: Chromaticity) -> Node | None:
    u, v = chromaticity.u_prime.sources, chromaticity.v_prime.sources
    return None if u is None or v is None else Cloud(vector, [[u, v]]).row(0)


def _judging(readings: Sequence[GreyReading], white: GreyReading, case: BlackCase) -> list[StepData]:
    """The lights that every step is judged by: white and, where the curve was put through it, black as measured."""
    lights = [white.measured]
    black = next((one for one in readings if one.measured.signal == 0.0), None)
    if case.cd_m2 and black is not None and black.luminance.plain:
        lights.append(black.measured)
    return lights


def _goal_sources(
    readings: Sequence[GreyReading], target: Target, white: GreyReading, case: BlackCase, signal: Array
) -> list[Node]:
    """The uncertainty of the curve: it is drawn through the white, and perhaps the black, that were measured."""
    lights = _judging(readings, white, case)
    values = [one.mean[1] for one in lights if one.mean is not None]
    slopes = []
    for index in range(len(values)):
        h = 1e-5 * values[index]
        up, down = ([*values[:index], values[index] + way * h, *values[index + 1 :]] for way in (1.0, -1.0))
        slopes.append((_curve(target, up, case, signal) - _curve(target, down, case, signal)) / (2.0 * h))
    return [
        Sum(tuple((float(slope[i]), OfLight(light, "Y")) for slope, light in zip(slopes, lights, strict=True)))
        for i in range(len(signal))
    ]


def _curve(target: Target, lights: Sequence[float], case: BlackCase, signal: Array) -> Array:
    """The curve for luminances of white and, where it is among ``lights``, of black."""
    white, *black = lights
    return luminance_curve(target, white, black[0] if black else case.cd_m2)(signal)


def _tracked(
    one: GreyReading,
    white: GreyReading,
    wanted: float,
    goal_sources: Node,
    balance: Balance,
    delta_uv: Quantity,
    delta_e: StepColour,
) -> Tracked:
    goal = composed(wanted, "cd/m2", (white.luminance,), sources=goal_sources)
    if wanted <= 0.0:
        error = absent("%", "the target is black here", one.luminance.records)
    else:
        # At white the target is the reading itself: its error is not independent, so it has no standard deviation.
        same = one.measured is white.measured
        error = scaled(ratio(one.luminance, goal), 100.0, "%", -100.0)
        if same and one.luminance.value is not None:
            exactly = 100.0 * (one.luminance.value / wanted - 1.0)
            error = composed(exactly, "%", (one.luminance,), sources=error.sources)
    bound = one.luminance.value if one.luminance.bound else None
    if one.measured.signal == 0.0 and bound is not None and math.isclose(wanted, bound, rel_tol=1e-9):
        # The curve was put through the bound on black: an error there would compare the bound with itself.
        error = absent("%", "black is what the curve assumes here", one.luminance.records)
    return Tracked(goal, error, balance, delta_uv, delta_e)


def _colour_differences(
    readings: Sequence[GreyReading], target: Target, white: GreyReading, case: BlackCase, primary: WhiteName
) -> list[StepColour]:
    """CIEDE2000 of each reading under each convention."""
    signal = np.array([one.measured.signal for one in readings])
    lights = _judging(readings, white, case)
    point = colour.xyz_from_xy(target.white, 1.0)

    def at_level(xyz: Array, level: float, *black: Array) -> tuple[Array, Array]:
        wanted = _curve(target, [level, *(one[1] for one in black)], case, signal)
        return colour.lab_from_xyz(wanted[:, None] * point, point * level), colour.lab_from_xyz(xyz, point * level)

    def by_target_white(xyz: Array, white_xyz: Array, *black: Array) -> tuple[Array, Array]:
        return at_level(xyz, white_xyz[1], *black)

    def by_measured_white(xyz: Array, white_xyz: Array, *black: Array) -> tuple[Array, Array]:
        wanted = _curve(target, [white_xyz[1], *(one[1] for one in black)], case, signal)
        goals = (wanted / white_xyz[1])[:, None] * white_xyz
        return colour.lab_from_xyz(goals, white_xyz), colour.lab_from_xyz(xyz, white_xyz)

    def absolute(xyz: Array, white_xyz: Array, *black: Array) -> tuple[Array, Array]:
        assert level is not None
        return at_level(xyz, level, *black)

    judged = [by_target_white, by_measured_white]
    level, why = target.luminance_cd_m2, "the target names no luminance"
    asked = "absolute" in conventions_for(primary)
    if asked and level is not None:
        try:
            luminance_curve(target, level, case.cd_m2)(signal)
            judged.append(absolute)
        except ValueError as error:
            why = f"the target's curve can't be computed: {error}"
    own = [one.measured for one in readings]
    drawn = Lights(tuple(own), tuple(lights))
    dark = dark_lights(readings, target)
    fixed = [np.array(one.mean, dtype=np.float64) for one in lights]
    at_most = [largest_differences(pairs, dark, fixed) for pairs in judged]
    clouds = [delta_e_cloud(pairs, own, lights, drawn) for pairs in judged]
    lengths = np.stack([np.asarray(colour.distance(cloud.values, 0.0)) for cloud in clouds], axis=-1).tolist()
    found = []
    for index, (one, values) in enumerate(zip(readings, lengths, strict=True)):
        nodes = [cloud.row(index) for cloud in clouds]
        figures = composed_each(values, "1", (one.chromaticity.x, one.luminance, white.luminance), nodes)
        if dark is not None and np.isfinite(dark[0, index]).all():
            figures = [bound_of(figure, float(most[index])) for figure, most in zip(figures, at_most, strict=True)]
        white_luminance, white_measured, *third = figures
        absolute_one = third[0] if third else absent("1", why) if asked else None
        found.append(StepColour(white_luminance, white_measured, absolute_one))
    return found


def _xyz(readings: Sequence[GreyReading]) -> Array:
    nothing = (np.nan, np.nan, np.nan)
    return np.array([one.measured.mean or nothing for one in readings], dtype=np.float64).reshape(-1, 3)


def _untracked(
    why: str, primary: WhiteName, delta_uv: Quantity | None = None, balance: Balance | None = None
) -> Tracked:
    one = absent("1", why)
    return Tracked(
        target_luminance=absent("cd/m2", why),
        luminance_error=absent("%", why),
        rgb_balance=balance or (one, one, one),
        delta_uv=delta_uv or one,
        delta_e=StepColour(one, one, one if "absolute" in conventions_for(primary) else None),
    )


def summaries(
    tracked: Sequence[tuple[int, Tracked]],
    target: Target | None,
    white: GreyReading | None,
    missing: str,
    primary: WhiteName = "white_luminance",
) -> tuple[DeltaE, ...]:
    """Mean, median, 95th percentile (linear between ranks) and maximum of the steps' differences.

    ``tracked`` pairs codes with steps. Absent while a step is ``missing``; steps without a difference are left out
    and named, one that is only known to be below something (black) counts with all that it may be.
    """
    found = []
    for name in conventions_for(primary):
        named = [(str(code), getattr(one.delta_e, name)) for code, one in tracked]
        whole, (words, adaptation) = (
            averages(named, missing, worst=1, called="code "),
            _conventions(name, target, white),
        )
        worst = int(whole.worst[0]) if whole.worst else None
        figures = (whole.mean, whole.median, whole.percentile_95, whole.maximum)
        found.append(DeltaE(name, words, adaptation, FORMULA, *figures, worst))
    return tuple(found)


def _conventions(name: WhiteName, target: Target | None, white: GreyReading | None) -> tuple[str, str]:
    """Which white, and which adaptation, in words."""
    point = f"x {target.white[0]:.4f} y {target.white[1]:.4f}" if target else "not given"
    measured = white.luminance.value if white and white.luminance.plain else None
    at_white = "the luminance of the measured white" + (f", {measured:.4g} cd/m2" if measured else "")
    if name == "white_luminance":
        return f"target white {point} at {at_white}", "none: the target's white stays the white"
    if name == "white_measured":
        return (
            "the measured white",
            "targets scaled to the measured white (for greys the same as by Bradford or any von Kries transform)",
        )
    level = target.luminance_cd_m2 if target else None
    where = f"{level:g} cd/m2" if level else "a luminance that the target does not name"
    return f"target white {point} at {where}; readings stay absolute", "none: the target's white stays the white"
