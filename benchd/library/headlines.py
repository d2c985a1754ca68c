"""Short names for the figures that samples are compared by, whatever their blocks are called in the plans.

Any other figure of a log has its path as a name, such as ``uniformity/white/r2c3/luminance``. A headline is the
figure of the first block of its kind; a log whose plan sweeps the display's controls has none, since no point of a
sweep is *the* sample: its figures are found by their paths.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

Better = Literal["highest", "lowest", "neither"]


class Headline(NamedTuple):
    """``name`` as it is typed; ``digits`` a kind of `benchd.report.digits.FINEST`; ``places``: (kind of block, path
    within it), the first that is there counts; "colours:chart chart24" is a block of that list of colours."""

    name: str
    title: str
    digits: str
    better: Better
    places: tuple[tuple[str, str], ...]


CHART = "colours:chart chart24"  # colour differences of another list of colours would be another figure

HEADLINES: tuple[Headline, ...] = (
    Headline("white", "White", "cd/m2", "highest", (("luminance", "white"), ("contrast", "sequential/white"))),
    Headline("black", "Black", "cd/m2", "lowest", (("luminance", "black"), ("contrast", "sequential/black"))),
    Headline("contrast", "Contrast", "1", "highest", (("contrast", "sequential/ratio"),)),
    Headline("checker-contrast", "Checkerboard contrast", "1", "highest", (("contrast", "checkerboard/ratio"),)),
    Headline("white-x", "White x", "xy", "neither", (("luminance", "white_chromaticity/x"),)),
    Headline("white-y", "White y", "xy", "neither", (("luminance", "white_chromaticity/y"),)),
    Headline("cct", "CCT", "K", "neither", (("luminance", "white_chromaticity/cct"),)),
    Headline("duv", "Duv", "Duv", "neither", (("luminance", "white_chromaticity/duv"),)),
    Headline("gamma", "Gamma", "gamma", "neither", (("grayscale", "gamma_fits/white_fixed/gamma"),)),
    Headline("gray-de-mean", "Grey ΔE00 mean", "dE00", "lowest", (("grayscale", "delta_e/white_luminance/mean"),)),
    Headline("gray-de-max", "Grey ΔE00 max", "dE00", "lowest", (("grayscale", "delta_e/white_luminance/maximum"),)),
    Headline("chart-de-mean", "Chart ΔE00 mean", "dE00", "lowest", ((CHART, "accuracy/white_luminance/mean"),)),
    Headline("chart-de-max", "Chart ΔE00 max", "dE00", "lowest", ((CHART, "accuracy/white_luminance/maximum"),)),
    Headline("srgb-coverage", "sRGB coverage u′v′", "%", "highest", (("gamut", "coverage/srgb/coverage_uv"),)),
    Headline(
        "p3-coverage", "Display P3 coverage u′v′", "%", "highest", (("gamut", "coverage/display-p3/coverage_uv"),)
    ),
    Headline("bt2020-coverage", "BT.2020 coverage u′v′", "%", "highest", (("gamut", "coverage/bt2020/coverage_uv"),)),
    Headline("hdr-peak", "HDR peak, any window", "cd/m2", "highest", (("peak", "greatest"),)),
    Headline("hdr-peak-10", "HDR peak, 10 % window", "cd/m2", "highest", (("peak", "10-percent/peak"),)),
    Headline("hdr-peak-full", "HDR peak, full screen", "cd/m2", "highest", (("peak", "100-percent/peak"),)),
    Headline("hdr-de-itp", "HDR ΔE ITP mean", "dE00", "lowest", (("tone_curve", "mean_delta_e_itp"),)),
    Headline("non-uniformity", "Non-uniformity", "%", "lowest", (("uniformity", "white/non_uniformity"),)),
    Headline("uniformity-duv", "Uniformity Δu′v′", "u'v'", "lowest", (("uniformity", "white/max_pair_delta_uv"),)),
)

BY_NAME = {headline.name: headline for headline in HEADLINES}

_TAILS = {
    "x": "xy",
    "y": "xy",
    "u_prime": "xy",
    "v_prime": "xy",
    "cct": "K",
    "duv": "Duv",
    "gamma": "gamma",
    "delta_uv": "u'v'",
    "max_delta_uv": "u'v'",
    "max_pair_delta_uv": "u'v'",
    "max_delta_e": "dE00",
}


def digits_of(name: str, unit: str) -> str:
    """The kind of digits (a key of `benchd.report.digits.FINEST`) that the figure ``name`` is shown with."""
    if name in BY_NAME:
        return BY_NAME[name].digits
    if "delta_e" in name:
        return "dE00"
    return _TAILS.get(name.rpartition("/")[2], unit)
