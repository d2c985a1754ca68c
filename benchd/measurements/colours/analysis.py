"""Colours against what they should be: CIEDE2000 and its parts, under named whites and named aims."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.colour.target import Target, target_from
from benchd.analysis.colour.tone_curves import luminance_curve, needs_black
from benchd.analysis.colour.tracking import BlackCase, black_cases, convention_of, conventions_for
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.patch_values import PatchValues, by_xyz, patch_of, patches_of, slopes, xyz
from benchd.analysis.log.places import few, not_measured, patch_words
from benchd.analysis.log.step_data import StepData
from benchd.analysis.log.step_light import MeterRange
from benchd.analysis.results import WhiteName
from benchd.analysis.uncertainty.cloud import Cloud
from benchd.analysis.uncertainty.colour_clouds import difference_cloud
from benchd.analysis.uncertainty.exact_cloud import ExactCloud
from benchd.analysis.uncertainty.quantity import Quantity, absent, composed, derived, merged, scaled
from benchd.analysis.uncertainty.sources import Lit, OfLight, Sum
from benchd.measurements.colours.results import Accuracy, Aim, ColourError, ColourPatch, Colours
from benchd.measurements.colours.summary import Judged, summary

Array = colour.Array

METHOD = (
    "colours at the centre; targets from the codes that were shown (decoded, so that rounding is no error), scaled to "
    "the measured white or to the target's luminance; colour after CIE 15 and ISO/CIE 11664-4 and -6; parts are the "
    "terms of CIEDE2000, sample minus target"
)
NEUTRAL = 1e-3
"""Chroma (CIELAB) below which a target is grey but for rounding."""
WHITE, BLACK = "reference-white", "reference-black"


def colours(log_data: LogData, block: Mapping[str, Any], meter: MeterRange, target: Target | None) -> Colours:
    """One list of colours. Those that were not measured are named in ``missing``, and averages are absent then."""
    listed = [_Wanted.of(fields) for fields in block["patches"]]
    patches = patches_of(log_data, block, [*(one.name for one in listed), WHITE, BLACK], meter)
    lacking = [one.name for one in listed if one.name not in patches]
    space = target_from(block["space"])
    aim: Aim = "target_unclamped" if block.get("aim") == "unclamped" else "target_clamped"
    primary = convention_of(block)
    white = patch_of(patches, WHITE)
    dark = patch_of(patches, BLACK)
    black = black_cases(space, dark.luminance)[0]
    black_seen = dark.measured if needs_black(space) and dark.luminance.plain else None
    level = target.luminance_cd_m2 if target else None
    work = _Work(
        space, white, black, level, int(block.get("bits", 8)), str(block["adaptation"]), aim, primary, black_seen
    )
    missing = not_measured(few(lacking), *NAMED)
    found = [(one, patches[one.name]) for one in listed if one.name in patches]
    judged = work.judged(found, {int(formula) for formula in block.get("also", ())})
    return Colours(
        block=str(block["name"]),
        method=METHOD,
        list=str(block["list"]),
        source=str(block.get("source") or ""),
        patch=patch_words(block),
        space=space.name,
        curve=space.curve_text,
        aim=aim,
        black=black.words,
        primary=primary,
        outside=sum(one.outside for one in listed),
        white_luminance=white.luminance,
        white_x=white.chromaticity.x,
        white_y=white.chromaticity.y,
        accuracy=tuple(_accuracies(work, judged, block, missing)),
        patches=tuple(judged),
        missing=missing or ("" if WHITE in patches else "white was not measured in this block"),
    )


NAMED = ("colour", "colours")


class _Wanted(NamedTuple):
    """One colour as the log describes it: ``aim`` is XYZ, white having Y = 1."""

    name: str
    code: tuple[int, int, int]
    aim: tuple[float, float, float]
    outside: bool

    @classmethod
    def of(cls, fields: Mapping[str, Any]) -> _Wanted:
        red, green, blue = (int(code) for code in fields["code"])
        x, y, z = (float(part) for part in fields["aim"])
        return cls(str(fields["name"]), (red, green, blue), (x, y, z), bool(fields["outside"]))


class _Figures(NamedTuple):
    """What one convention gives: differences (n, 1 or 4: with the terms), their derivatives by x, y, luminance of
    colour and white, and by their X, Y, Z; and the differences as lengths, from which their intervals come."""

    values: Array
    slopes: Array
    by_light: list[list[list[float]]]
    lights: Sequence[Lit]
    cloud: Cloud


class _Work(NamedTuple):
    """The block at hand."""

    space: Target
    white: PatchValues
    black: BlackCase
    level: float | None
    bits: int
    adaptation: str
    aim: Aim
    primary: WhiteName
    black_seen: StepData | None

    def judged(self, found: Sequence[tuple[_Wanted, PatchValues]], also: set[int]) -> list[ColourPatch]:
        """Every colour against its target."""
        if why := self._obstacle:
            absolute = "absolute" in conventions_for(self.primary)
            return [_unjudged(one, shown, why, also, absolute=absolute) for one, shown in found]
        if not found:
            return []
        other: Aim = "target_unclamped" if self.aim == "target_clamped" else "target_clamped"
        asked = conventions_for(self.primary)
        by_white = {name: self._figures(found, name, self.aim) for name in asked}
        other_aim = self._figures(found, self.primary, other) if any(one.outside for one, _ in found) else None
        by_formula = {formula: self._figures(found, self.primary, self.aim, formula) for formula in also}
        wanted = self._targets(found, self.aim)(*self._levels)
        hues = _hues(by_white[self.primary])
        rows = []
        for index, (one, shown) in enumerate(found):

            def figure(
                figures: _Figures | None, term: int = 0, row: int = index, seen: PatchValues = shown
            ) -> Quantity:
                return _figure(figures, row, term, [*seen.parts, *self.white.parts], self.white.measured)

            main = by_white[self.primary]
            rows.append(
                ColourPatch(
                    name=one.name,
                    code=one.code,
                    outside=one.outside,
                    luminance=shown.luminance,
                    x=shown.chromaticity.x,
                    y=shown.chromaticity.y,
                    target_luminance=scaled(self.white.luminance, float(wanted[index, 1]), "cd/m2"),
                    target_x=_share(wanted[index], 0),
                    target_y=_share(wanted[index], 1),
                    error=ColourError(
                        figure(main), figure(main, 1), figure(main, 2), _or_absent(figure(main, 3), hues[index])
                    ),
                    white_luminance=figure(by_white["white_luminance"]),
                    white_measured=figure(by_white["white_measured"]),
                    absolute=figure(by_white["absolute"]) if "absolute" in asked else None,
                    other_aim=figure(other_aim or main),
                    cie76=figure(by_formula[76]) if 76 in also else None,
                    cie94=figure(by_formula[94]) if 94 in also else None,
                )
            )
        return rows

    @property
    def _obstacle(self) -> str:
        """Why nothing can be judged; "" where all can."""
        if not self.white.usable:
            return f"white can't be used: {self.white.why}"
        try:
            luminance_curve(self.space, self._levels[0], self.black.cd_m2)
        except ValueError as error:
            return f"the space's curve can't be computed: {error}"
        return ""

    @property
    def _levels(self) -> list[float]:
        """Luminance of white, and of black where the curve uses one that was measured."""
        levels = [self.white.luminance.value or 1.0]
        return [*levels, self.black.cd_m2] if self.black.cd_m2 is not None and self.black_seen else levels

    def _targets(self, found: Sequence[tuple[_Wanted, PatchValues]], aim: Aim) -> Callable[..., Array]:
        """XYZ (n, 3), white having Y = 1, as a function of the luminance of white and, where it matters, of black.

        What the codes request; with the aim ``target_unclamped``, of colours outside the space, what was wanted
        before they were clamped. A curve that uses black is taken for each channel by itself.
        """
        space = self.space
        matrix = colour.rgb_to_xyz_matrix(space.red, space.green, space.blue, space.white)
        signals = np.array([shown.code for _, shown in found]) / ((1 << self.bits) - 1)
        unclamped = np.array([one.outside and aim == "target_unclamped" for one, _ in found])[:, None]
        wanted = np.array([one.aim for one, _ in found])

        def targets(white: float, black: float | None = None) -> Array:
            dark = self.black.cd_m2 if black is None else max(0.0, black)
            linear = luminance_curve(space, white, dark)(signals) / white
            return np.where(unclamped, wanted, linear @ matrix.T)

        return targets

    def _figures(
        self, found: Sequence[tuple[_Wanted, PatchValues]], convention: str, aim: Aim, formula: int = 2000
    ) -> _Figures | None:
        """Differences and derivatives; None where the convention needs a luminance that the target does not name."""
        level = self.level
        if convention == "absolute" and level is None:
            return None
        targets = self._targets(found, aim)
        goal_white = colour.xyz_from_xy(self.space.white)

        def labs(samples: Array, white: Array, relative: Array) -> tuple[Array, Array]:
            """L*, a*, b* of goals and samples; XYZ of samples (..., n, 3) and of white (..., 1, 3)."""
            lab_white = white
            if convention == "white_measured":
                goals = colour.adapted(relative, goal_white, white, self.adaptation)
            else:
                scale = white[..., 1:2] if convention == "white_luminance" else np.array(level or 1.0)
                goals, lab_white = relative * scale, goal_white * scale
            return colour.lab_from_xyz(goals, lab_white), colour.lab_from_xyz(samples, lab_white)

        fixed = targets(*self._levels)

        def terms(samples: Array, white: Array) -> Array:
            pair = np.broadcast_arrays(*labs(xyz(samples), xyz(white), fixed))
            if formula == 2000:
                return colour.delta_e_2000_parts(*pair)
            return (colour.delta_e_76 if formula == 76 else colour.delta_e_94)(*pair)[..., None]

        def pairs(samples: Array, white: Array, *black: Array) -> tuple[Array, Array]:
            return labs(samples, white[None, :], targets(float(white[1]), *(float(one[1]) for one in black)))

        lights = [one for one in (self.white.measured, self.black_seen) if one is not None]
        own = [shown.measured for _, shown in found if shown.measured is not None]
        samples = np.array([shown.xyl for _, shown in found])
        values, by_part = slopes(terms, samples, np.array(self.white.xyl))
        by_light = by_part[..., :3] @ by_xyz(samples)
        by_white = by_part[..., 3:] @ by_xyz(np.array(self.white.xyl))
        gradients = np.concatenate([by_light, by_white], axis=-1).tolist()
        return _Figures(values, by_part, gradients, own, difference_cloud(pairs, own, lights, formula))


def _figure(figures: _Figures | None, row: int, term: int, parts: Sequence[Quantity], white: Lit | None) -> Quantity:
    """One figure. A difference (term 0) is a length and has its interval from its cloud; a term is linear."""
    if figures is None:
        return absent("1", "the target names no luminance")
    if unusable := [part for part in parts if not part.plain]:
        return absent("1", unusable[0].why, merged(part.records for part in parts))
    value = float(figures.values[row, term])
    if term == 0 or white is None:
        return composed(value, "1", parts, sources=figures.cloud.row(row))
    result = derived(value, "1", list(zip(figures.slopes[row, term].tolist(), parts, strict=True)))
    # The same by the two lights themselves: a third of the work, for hundreds of colours.
    x, y, z, white_x, white_y, white_z = figures.by_light[row][term]
    nodes = (OfLight(figures.lights[row], (x, y, z)), OfLight(white, (white_x, white_y, white_z)))
    return result._replace(sources=Sum(tuple((1.0, node) for node in nodes)))


def _hues(figures: _Figures | None) -> list[str]:
    """For each colour why it has no hue that could be compared, "" where it has one."""
    cloud = figures.cloud if figures else None
    if not isinstance(cloud, ExactCloud):
        return [""] * (len(cloud.values) if cloud else 0)
    reaches = cloud.reach_of_colour()
    found = []
    for row, labs in enumerate(zip(cloud.goal, cloud.sample, strict=True)):
        reach = max(NEUTRAL, 0.0 if reaches is None else float(reaches[row]))
        grey = [
            f"no hue: the {what} has a chroma of {chroma:.2g}, not distinguishable from grey (within {reach:.2g})"
            for what, lab in zip(("target", "colour as read"), labs, strict=True)
            if (chroma := math.hypot(lab[1], lab[2])) < reach
        ]
        found.append(grey[0] if grey else "")
    return found


def _or_absent(hue: Quantity, why: str) -> Quantity:
    return absent(hue.unit, why, hue.records) if why and hue.value is not None else hue


def _share(relative: Array, part: int) -> float | None:
    total = float(relative.sum())
    return float(relative[part]) / total if total > 0.0 else None


def _unjudged(one: _Wanted, shown: PatchValues, why: str, also: set[int], *, absolute: bool) -> ColourPatch:
    nothing = absent("1", why)
    return ColourPatch(
        name=one.name,
        code=one.code,
        outside=one.outside,
        luminance=shown.luminance,
        x=shown.chromaticity.x,
        y=shown.chromaticity.y,
        target_luminance=absent("cd/m2", why),
        target_x=None,
        target_y=None,
        error=ColourError(nothing, nothing, nothing, nothing),
        white_luminance=nothing,
        white_measured=nothing,
        absolute=nothing if absolute else None,
        other_aim=nothing,
        cie76=nothing if 76 in also else None,
        cie94=nothing if 94 in also else None,
    )


def _accuracies(work: _Work, judged: Sequence[ColourPatch], block: Mapping[str, Any], missing: str) -> list[Accuracy]:
    """The plan's aim under each white; its white with the other aim where that differs, and by further formulas."""
    other: Aim = "target_clamped" if work.aim == "target_unclamped" else "target_unclamped"
    cases = [
        Judged(name, work.aim, name, "2000", [getattr(one, name) for one in judged])
        for name in conventions_for(work.primary)
    ]
    if any(one.outside for one in judged):
        cases.append(Judged("other_aim", other, work.primary, "2000", [one.other_aim for one in judged]))
    for formula in (76, 94):
        name = f"cie{formula}"
        figures = [figure for one in judged if (figure := getattr(one, name)) is not None]
        if formula in block.get("also", ()):
            cases.append(Judged(name, work.aim, work.primary, str(formula), figures))
    names = [one.name for one in judged]
    return [summary(case, names, work.space, work.white, work.level, work.adaptation, missing) for case in cases]


PART = colours
