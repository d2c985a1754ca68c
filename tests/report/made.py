"""Results made by hand for these tests. Display, meter and every figure are invented."""

from __future__ import annotations

import dataclasses
from dataclasses import replace
from typing import Any

from benchd.analysis.colour.target import Target
from benchd.analysis.log.results_run import WarmUp
from benchd.analysis.results import SCHEMA, Absent, Chromaticity, DeltaE, Results, StepColour
from benchd.analysis.uncertainty.quantity import Quantity, absent
from benchd.measurements.contrast.results import CheckerboardContrast, Contrast, Polarity, SequentialContrast
from benchd.measurements.grayscale.results import GammaFit, Grayscale, GrayStep
from benchd.measurements.luminance.results import Luminance
from benchd.measurements.patches.results import Patches, PatchResult
from benchd.measurements.uniformity.results import Uniformity, UniformityCell, UniformityLevel
from benchd.report.data.log_reference import LogReference

LOG = LogReference("plover-27-1/2026-03-02T1812.log", "ab" * 32)
FLOOR = "black is below the meter's specified range (0.005 cd/m2)"


def q(value: float, unit: str = "1", s: float | None = None, n: int = 3, at: int = 12) -> Quantity:
    return Quantity(value, unit, n, s, records=((at, at + n - 1),))


def chromaticity(x: float = 0.3131, y: float = 0.3293) -> Chromaticity:
    below = -2.0 * x + 12.0 * y + 3.0
    return Chromaticity(
        q(x, s=0.00004),
        q(y, s=0.00004),
        q(4 * x / below, s=0.00003),
        q(9 * y / below, s=0.00003),
        q(6478.2, "K", 2.1),
        q(0.00312, s=0.00002),
    )


def luminance() -> Luminance:
    white, black = q(384.61, "cd/m2", 0.19), q(0.35246, "cd/m2", 0.0021, n=5, at=16)
    return Luminance("luminance", "mean of the readings; method after INVENTED 1", white, black, chromaticity())


def contrast(*, bound: bool = False) -> Contrast:
    white, black = q(384.61, "cd/m2", 0.19), q(0.35246, "cd/m2", 0.0021, n=5)
    ratio = q(1091.2, s=6.5)
    if bound:
        black = Quantity(0.005, "cd/m2", 5, None, "under", "below", FLOOR, ((30, 34),))
        ratio = Quantity(412 / 0.005, "1", 3, None, "under", "above", FLOOR, ((30, 37),))
    sequential = SequentialContrast("white over black; method after INVENTED 2", white, black, ratio)
    normal = Polarity("normal", white, black, q(980.4, s=4.0))
    inverse = Polarity("inverse", white, black, q(976.2, s=4.0))
    board = CheckerboardContrast("16 zones; method after INVENTED 3", 4, 4, normal, inverse, q(978.3, s=2.8))
    return Contrast("contrast", sequential, board)


def gray_step(code: int, luminance_cd_m2: float, target: float) -> GrayStep:
    dark = code == 0
    nothing = absent("1", "there is no gamma at V = 0 and V = 1")
    end = dark or code == 255
    return GrayStep(
        f"grayscale/code-{code}",
        code,
        code / 255,
        q(luminance_cd_m2, "cd/m2", luminance_cd_m2 * 0.0006),
        chromaticity(),
        absent("1", "it is the last step") if code == 255 else q(2.1874, s=0.003),
        nothing if end else q(2.2213, s=0.002),
        q(target, "cd/m2"),
        q(100 * (luminance_cd_m2 / target - 1), "%", 0.06),
        (q(1.0031, s=0.0004), q(0.9989, s=0.0004), q(1.0122, s=0.0004)),
        q(0.00124, s=0.00003),
        StepColour(q(1.2241, s=0.02), q(0.1422, s=0.02), q(3.0512, s=0.02)),
    )


def delta_e(convention: str, mean: float) -> DeltaE:
    return DeltaE(
        convention,  # type: ignore[arg-type]
        f"white of {convention}",
        "no adaptation",
        "CIEDE2000 after CIE 142-2001",
        q(mean, s=0.01),
        q(mean * 0.9, s=0.01),
        q(mean * 1.8, s=0.01),
        q(mean * 2, s=0.01),
        128,
    )


def grayscale() -> Grayscale:
    steps = (gray_step(0, 0.35, 0.352), gray_step(128, 82.91, 83.03), gray_step(255, 384.6, 384.6))
    fits = tuple(
        GammaFit(f"rule {fixed}", fixed, q(2.2012, s=0.001), q(0.0121), (26, 51, 230)) for fixed in (True, False)
    )
    conventions = ("white_luminance", "white_measured", "absolute")
    averages = tuple(delta_e(name, mean) for name, mean in zip(conventions, (1.1, 0.4, 2.9), strict=True))
    return Grayscale(
        "grayscale",
        "grey steps; method after INVENTED 4",
        "sRGB curve after IEC 61966-2-1",
        "white_luminance",
        "curve from the measured white; black is not part of this curve",
        steps,
        averages,
        fits,
        None,
        None,
    )


GRID = ((302.1, 318.4, 305.9), (311.0, 330.2, 314.8), (298.5, 317.7, 301.3))
"""Luminances of a 3 x 3 grid: worked by hand (FPDM 306-1, from memory): non-uniformity 9.6002 %."""


def uniformity(*, without: tuple[str, ...] = ()) -> Uniformity:
    grid = tuple(
        tuple(cell(row, column, value, f"r{row}c{column}" in without) for column, value in enumerate(line, 1))
        for row, line in enumerate(GRID, 1)
    )
    why = f"cells {', '.join(without)} were not measured" if without else ""
    whole = {
        "mean": q(311.1, "cd/m2", 0.1),
        "non_uniformity": q(9.6002, "%", 0.04),
        "min_over_max": q(0.903998, s=0.0004),
        "worst_deviation": q(-9.6002, "%", 0.04),
        "max_delta_uv": q(0.0025, s=0.00004),
        "max_pair_delta_uv": q(0.003656, s=0.00004),
        "max_delta_e": q(2.31, s=0.02),
    }
    if without:
        whole = {name: absent(quantity.unit, why) for name, quantity in whole.items()}
    level = UniformityLevel(
        "white",
        100.0,
        255,
        3,
        3,
        "r2c2",
        grid,
        worst_place=None if without else "r3c1",
        max_delta_uv_place=None if without else "r1c3",
        max_pair_places=None if without else ("r1c3", "r3c1"),
        max_delta_e_place=None if without else "r1c3",
        delta_e_convention="centre as white, no adaptation, CIEDE2000",
        missing=why,
        **whole,
    )
    return Uniformity("uniformity", "sampled grid; method after INVENTED 5", (level,))


def cell(row: int, column: int, value: float, gone: bool) -> UniformityCell:
    if gone:
        nothing = absent("cd/m2", "it was not measured")
        return UniformityCell(row, column, None, nothing, Chromaticity(*[nothing] * 6), nothing, nothing, nothing)
    at = (0.1 + 0.4 * (column - 1), 0.1 + 0.4 * (row - 1))
    deviation = q(100 * (value / 330.2 - 1), "%", 0.04)
    distance = q(0.0025 if (row, column) == (1, 3) else 0.0004 * (column - 1), s=0.00004)
    return UniformityCell(row, column, at, q(value, "cd/m2", 0.1), chromaticity(), deviation, distance, q(0.8, s=0.02))


def patches() -> Patches:
    one = PatchResult(
        "skin-1", (194, 150, 130), 8, q(120.0, "cd/m2", 0.2), *(q(v, s=1e-5) for v in (0.38, 0.36, 0.22, 0.48))
    )
    return Patches("patches", "mean of the readings", (one, replace(one, name="sky, evening")))


def results(**changes: Any) -> Results:
    """A complete run of every kind of block on a real bench; ``changes`` replace fields."""
    complete = Results(
        schema=SCHEMA,
        simulated=False,
        virtual_time=False,
        sample="plover-27/1",
        note="",
        plan="sdr-standard",
        target=Target("srgb", (0.3127, 0.329), (0.64, 0.33), (0.3, 0.6), (0.15, 0.06), "srgb"),
        meter={
            "model": "LAPWING",
            "serial_number": "0007",
            "firmware": "1.2",
            "driver": "serial:terse-line",
            "floor_cd_m2": 0.005,
            "ceiling_cd_m2": 3000.0,
            "calibrated": None,
        },
        screen={"name": "HDMI-1", "width": 1920, "height": 1080, "bits": 8, "readback": "screen"},
        settings={"settle_s": 0.6, "dark_settle_s": 2.0, "readings": 3, "dark_readings": 5, "order": "listed"},
        versions={"benchd": "0.1.0"},
        started="2026-03-02T18:12:04.123Z",
        sessions=1,
        interrupted=False,
        steps_planned=137,
        steps_done=137,
        readings=443,
        faults=0,
        warm_up=WarmUp(True, 23.0, q(384.2, "cd/m2", 0.3, n=40)),
        blocks={one.block: one for one in (luminance(), contrast(), grayscale(), uniformity(), patches())},
        absent=(),
    )
    return changed(complete, **changes)


def changed(results: Results, **changes: Any) -> Results:
    """``results`` with other fields; the name of a kind of block replaces all blocks of that kind."""
    fields, blocks = {one.name for one in dataclasses.fields(results)}, dict(results.blocks)
    for kind in changes.keys() - fields:
        blocks = {name: block for name, block in blocks.items() if block.kind != kind}
        blocks |= {block.block: block for block in changes.pop(kind)}
    return replace(results, **{"blocks": blocks, **changes})


def interrupted() -> Results:
    """A simulated run that stopped within its grid: bounds, absent figures, absent results."""
    gone = ("r3c2", "r3c3")
    return results(
        simulated=True,
        virtual_time=True,
        interrupted=True,
        steps_done=120,
        faults=2,
        sessions=3,
        warm_up=None,
        contrast=(contrast(bound=True),),
        uniformity=(uniformity(without=gone),),
        grayscale=(),
        patches=(),
        absent=(Absent("grayscale", "no step was measured"),),
    )
