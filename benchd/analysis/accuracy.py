"""Colours against what they should be: CIEDE2000 and its parts, under named whites and named aims."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from benchd.analysis import colour
from benchd.analysis.accuracy_summary import Judged, summary
from benchd.analysis.curves import luminance_curve
from benchd.analysis.gamut import patch_words
from benchd.analysis.luminance import MeterRange
from benchd.analysis.places import not_measured
from benchd.analysis.quantity import Quantity, absent, composed_each, derived, merged, scaled
from benchd.analysis.results_colour import Accuracy, Aim, ColourError, ColourPatch, Colours, Convention
from benchd.analysis.seen import Seen, of, seen, slopes, xyz
from benchd.analysis.survey import Survey
from benchd.analysis.target import Target, target_from
from benchd.analysis.tracking import WHITES, BlackCase, black_cases

Array = colour.Array

METHOD = (
    "colours at the centre; targets from the codes that were shown (decoded, so that rounding is no error), scaled to "
    "the measured white or to the target's luminance; colour after CIE 15 and ISO/CIE 11664-4 and -6; parts are the "
    "terms of CIEDE2000, sample minus target"
)
WHITE, BLACK = "reference-white", "reference-black"


def colours(survey: Survey, block: Mapping[str, Any], meter: MeterRange, target: Target | None) -> Colours:
    """One list of colours. Those that were not measured are named in ``missing``, and averages are absent then."""
    listed = [_Wanted.of(fields) for fields in block["patches"]]
    patches = seen(survey, block, [*(one.name for one in listed), WHITE, BLACK], meter)
    lacking = [one.name for one in listed if one.name not in patches]
    space = target_from(block["space"])
    aim: Aim = "target_unclamped" if block.get("aim") == "unclamped" else "target_clamped"
    primary: Convention = "white_measured" if block.get("white") == "measured" else "white_luminance"
    white = of(patches, WHITE)
    black = black_cases(space, of(patches, BLACK).luminance)[0]
    level = target.luminance_cd_m2 if target else None
    work = _Work(space, white, black, level, int(block.get("bits", 8)), str(block["adaptation"]), aim, primary)
    missing = not_measured(lacking if len(lacking) <= 8 else [*lacking[:7], f"{len(lacking) - 7} more"], *NAMED)
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
    """What one convention gives: CIEDE2000 and its terms, with derivatives by x, y, luminance of colour and white."""

    values: Array  # (n, 4)
    slopes: Array  # (n, 4, 6)


class _Work(NamedTuple):
    """The block at hand."""

    space: Target
    white: Seen
    black: BlackCase
    level: float | None
    bits: int
    adaptation: str
    aim: Aim
    primary: Convention

    def judged(self, found: Sequence[tuple[_Wanted, Seen]], also: set[int]) -> list[ColourPatch]:
        """Every colour against its target."""
        if not found:
            return []
        if not self.white.usable:
            return [_unjudged(one, shown, f"white can't be used: {self.white.why}", also) for one, shown in found]
        clamped, unclamped = self._targets(found)
        chosen, other = (clamped, unclamped) if self.aim == "target_clamped" else (unclamped, clamped)
        samples = np.array([shown.xyl for _, shown in found])
        white = np.array(self.white.xyl)
        by_white = {name: self._figures(name, chosen, samples, white) for name in WHITES}
        extra = {
            "other_aim": self._figures(self.primary, other, samples, white),
            **{f"cie{formula}": self._figures(self.primary, chosen, samples, white, formula) for formula in also},
        }
        rows = []
        for index, (one, shown) in enumerate(found):
            parts = [*shown.parts, *self.white.parts]

            def figure(
                figures: _Figures | None, term: int, row: int = index, parts: list[Quantity] = parts
            ) -> Quantity:
                if figures is None:
                    return absent("1", "the target names no luminance")
                return _figure(figures.values[row, term], figures.slopes[row, term], parts, distance=term == 0)

            main = by_white[self.primary]
            relative = chosen[index]
            rows.append(
                ColourPatch(
                    name=one.name,
                    code=one.code,
                    outside=one.outside,
                    luminance=shown.luminance,
                    x=shown.chromaticity.x,
                    y=shown.chromaticity.y,
                    target_luminance=scaled(self.white.luminance, float(relative[1]), "cd/m2"),
                    target_x=_share(relative, 0),
                    target_y=_share(relative, 1),
                    error=ColourError(*(figure(main, term) for term in range(4))),
                    white_luminance=figure(by_white["white_luminance"], 0),
                    white_measured=figure(by_white["white_measured"], 0),
                    absolute=figure(by_white["absolute"], 0),
                    other_aim=figure(extra["other_aim"], 0),
                    cie76=figure(extra["cie76"], 0) if 76 in also else None,
                    cie94=figure(extra["cie94"], 0) if 94 in also else None,
                )
            )
        return rows

    def _targets(self, found: Sequence[tuple[_Wanted, Seen]]) -> tuple[Array, Array]:
        """XYZ (n, 3) over the luminance of white: what the codes ask for, and what was wanted before they were clamped.

        A curve that uses black is taken for each channel by itself.
        """
        space = self.space
        matrix = colour.rgb_to_xyz_matrix(space.red, space.green, space.blue, space.white)
        signals = np.array([shown.code for _, shown in found]) / ((1 << self.bits) - 1)
        white = self.white.luminance.value or 1.0
        clamped = luminance_curve(space, white, self.black.cd_m2)(signals) / white @ matrix.T
        outside = np.array([one.outside for one, _ in found])[:, None]
        return clamped, np.where(outside, np.array([one.aim for one, _ in found]), clamped)

    def _figures(
        self, convention: str, targets: Array, samples: Array, white: Array, formula: int = 2000
    ) -> _Figures | None:
        """Differences and derivatives; None where the convention needs a luminance that the target does not name."""
        if convention == "absolute" and self.level is None:
            return None
        goal_white = colour.xyz_from_xy(self.space.white)

        def terms(seen_samples: Array, seen_white: Array) -> Array:
            if convention == "absolute":
                lab_white = goal_white * self.level
                goals = targets * self.level
            elif convention == "white_luminance":
                lab_white = goal_white * seen_white[..., 2:]
                goals = targets * seen_white[..., 2:]
            else:
                lab_white = xyz(seen_white)
                goals = _adapted(targets, goal_white, lab_white, self.adaptation)
            pair = colour.lab_from_xyz(goals, lab_white), colour.lab_from_xyz(xyz(seen_samples), lab_white)
            if formula == 2000:
                return colour.delta_e_2000_parts(*np.broadcast_arrays(*pair))
            return (colour.delta_e_76 if formula == 76 else colour.delta_e_94)(*pair)[..., None]

        return _Figures(*slopes(terms, samples, white))


def _adapted(targets: Array, white_from: Array, white_to: Array, method: str) -> Array:
    """Targets (n, 3) under ``white_from`` (3,) as they look under ``white_to`` (..., 1, 3), von Kries in cones."""
    cones = (colour.CAT02 if method == "cat02" else colour.BRADFORD).T
    seen_targets = (targets @ cones) * ((white_to @ cones) / (white_from @ cones))
    return np.asarray(seen_targets @ np.linalg.inv(cones))


def _figure(value: float, slope: Array, parts: Sequence[Quantity], *, distance: bool) -> Quantity:
    """One figure. A distance has no slope at zero, and so no scatter to first order."""
    if unusable := [part for part in parts if not part.plain]:
        return absent("1", unusable[0].why, merged(part.records for part in parts))
    if distance:
        return composed_each([float(value)], "1", parts)[0]
    return derived(float(value), "1", list(zip(slope.tolist(), parts, strict=True)))


def _share(relative: Array, part: int) -> float | None:
    total = float(relative.sum())
    return float(relative[part]) / total if total > 0.0 else None


def _unjudged(one: _Wanted, shown: Seen, why: str, also: set[int]) -> ColourPatch:
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
        absolute=nothing,
        other_aim=nothing,
        cie76=nothing if 76 in also else None,
        cie94=nothing if 94 in also else None,
    )


def _accuracies(work: _Work, judged: Sequence[ColourPatch], block: Mapping[str, Any], missing: str) -> list[Accuracy]:
    """The plan's aim under each white; its white with the other aim where that differs, and by further formulas."""
    other: Aim = "target_clamped" if work.aim == "target_unclamped" else "target_unclamped"
    cases = [Judged(name, work.aim, name, "2000", [getattr(one, name) for one in judged]) for name in WHITES]
    if any(one.outside for one in judged):
        cases.append(Judged("other_aim", other, work.primary, "2000", [one.other_aim for one in judged]))
    for formula in (76, 94):
        name = f"cie{formula}"
        figures = [figure for one in judged if (figure := getattr(one, name)) is not None]
        if formula in block.get("also", ()):
            cases.append(Judged(name, work.aim, work.primary, str(formula), figures))
    names = [one.name for one in judged]
    return [summary(case, names, work.space, work.white, work.level, work.adaptation, missing) for case in cases]
