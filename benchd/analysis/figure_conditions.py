"""What a figure holds for, as part of the figure: figures are compared, ranked and judged only under equal conditions.

A condition is a name and a text: ("target", "srgb: sRGB curve after IEC 61966-2-1, ..."), ("window", "10 %"). What is
in a figure's name already (its space and diagram, its list of colours, the size of a peak's window) is not said again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from benchd.analysis.colour.target import Target
    from benchd.analysis.results import Contrast, Grayscale, Results, UniformityLevel
    from benchd.analysis.results_colour import Accuracy, Colours, Gamut
    from benchd.analysis.results_hdr import ColourLevels, Halo, HaloDistance, Peak, Sustained, ToneCurve

Conditions = tuple[tuple[str, str], ...]

WHITES = {
    "white_luminance": "the target's at the luminance of the measured white",
    "white_measured": "the measured one",
    "absolute": "the target's at its own luminance",
}
"""The conventions of white of a colour difference, without a figure in them."""


WITHOUT = {"signal": "SDR", "room": "its light not subtracted"}
"""What a figure without the condition holds for."""


def conditions_text(conditions: Conditions) -> str:
    """``signal PQ; window 10 %`` on one line; "" without any."""
    return "; ".join(f"{name} {text}" for name, text in conditions)


def differing(first: Conditions, second: Conditions) -> str:
    """What is not the same: ``target srgb against bt1886``; "" where all is."""
    mine, theirs = dict(first), dict(second)
    names = [name for name in dict.fromkeys((*mine, *theirs)) if mine.get(name) != theirs.get(name)]
    return "; ".join(
        f"{name} {mine.get(name, WITHOUT.get(name, 'none'))} against {theirs.get(name, WITHOUT.get(name, 'none'))}"
        for name in names
    )


def of_log(results: Results) -> Conditions:
    """Of every figure of a log: its signal, where that is not SDR, and whether the room's light was taken off."""
    room_off = any(one.screen == "off" and one.subtracted for one in results.offsets)
    return (*of_settings(results.settings), *((("room", "its light subtracted"),) if room_off else ()))


def of_settings(settings: Mapping[str, object]) -> Conditions:
    """The same from the settings of the log."""
    signal = settings.get("signal")
    if not isinstance(signal, Mapping):
        return ()
    transfer = str(signal.get("transfer", "")).upper()
    peak = f" with a nominal peak of {signal['peak_cd_m2']:g} cd/m2" if transfer == "HLG" else ""
    return () if transfer in ("", "SDR") else (("signal", f"{transfer}{peak}"),)


def target_text(target: Target | None) -> str:
    """Name, curve, white and luminance: two files of one name may differ."""
    if target is None:
        return "none"
    level = "" if target.luminance_cd_m2 is None else f", {target.luminance_cd_m2:g} cd/m2"
    return f"{target.name}: {target.curve_text}, white x {target.white[0]:.4f} y {target.white[1]:.4f}{level}"


def of_checkerboard(contrast: Contrast) -> Conditions:
    """How many cells: the fewer, the less of each cell's light strays into the next."""
    board = contrast.checkerboard
    return () if board is None else (("cells", f"{board.columns} x {board.rows}"),)


def steps_text(codes: Sequence[int], signals: Sequence[float]) -> str:
    """How many steps; their codes too, where they are not equal steps from black to white."""
    last = len(codes) - 1
    if last < 1 or codes[-1] == codes[0]:
        return str(len(codes))
    code = (signals[-1] - signals[0]) / (codes[-1] - codes[0])  # of the signal of 0 to 1
    whole = abs(signals[0]) < 1e-9 and abs(signals[-1] - 1.0) < 1e-9
    if whole and all(abs(signal - index / last) < 0.51 * code for index, signal in enumerate(signals)):
        return str(len(codes))
    return f"{len(codes)}: {', '.join(str(one) for one in codes)}"


def of_gamma(gray: Grayscale, rule: str) -> Conditions:
    """The points of the fit, and the patch that the greys are on."""
    return (("fit", rule), ("patch", gray.patch))


def of_gray_difference(gray: Grayscale, target: Target | None) -> Conditions:
    """Of colour differences of grey steps under the plan's own convention."""
    formula = next((one.formula for one in gray.delta_e if one.convention == gray.primary), "")
    return (
        ("target", target_text(target)),
        ("white", WHITES[gray.primary]),
        ("formula", formula),
        ("steps", steps_text([one.code for one in gray.steps], [one.signal for one in gray.steps])),
        ("patch", gray.patch),
    )


def of_grid(level: UniformityLevel) -> Conditions:
    """The places: how many, and how far from the edge the first one is."""
    first = level.grid[0][0].at if level.grid and level.grid[0] else None
    grid = ("grid", f"{level.columns} x {level.rows}")
    return (grid,) if first is None else (grid, ("margin", f"{100.0 * min(first):g} %"))


def of_gamut(gamut: Gamut) -> Conditions:
    """The patch: an emissive panel's colours change with its size."""
    return (("patch", gamut.patch),)


def of_colours(colours: Colours, accuracy: Accuracy) -> Conditions:
    """Of colour differences of a list of colours."""
    return (
        ("space", f"{colours.space}, {colours.curve}"),
        ("aim", accuracy.aim),
        ("white", WHITES.get(accuracy.convention, accuracy.convention)),
        ("formula", accuracy.formula),
        ("adaptation", accuracy.adaptation),
        ("patch", colours.patch),
    )


def of_peak(peak: Peak | Sustained, *, windows: bool = False) -> Conditions:
    """What the window's codes ask for, and the rest before it; of the largest of several windows also which."""
    asked = f"{peak.asked_cd_m2:g} cd/m2" if peak.asked_cd_m2 is not None else f"code {peak.code} of {peak.bits} bits"
    sizes = ", ".join(f"{one.area_percent:g}" for one in peak.windows)
    rest = ("black before", f"{peak.black_s:g} s")
    return (("asked for", asked), rest, *((("windows", f"{sizes} %"),) if windows else ()))


def of_halo(halo: Halo, side: HaloDistance) -> Conditions:
    """Size, code and distance of the window."""
    distance = f"{side.distance_percent:g} % of the width, {side.side}"
    return (("window", f"{halo.area_percent:g} %"), ("distance", distance), *of_board(halo))


def of_board(halo: Halo) -> Conditions:
    """The code of the bright patches."""
    return (("code", f"{halo.code} of {halo.bits} bits"),)


def of_tone(tone: ToneCurve, *, averaged: bool) -> Conditions:
    """The window; of averages over the steps also how many there are, and which."""
    steps = steps_text([one.code for one in tone.steps], [one.signal for one in tone.steps])
    return (("window", f"{tone.area_percent:g} %"), *((("steps", steps),) if averaged else ()))


def of_levels(levels: ColourLevels) -> Conditions:
    """Which colours of whose primaries, at which levels, and the window."""
    steps = ", ".join(f"{one:g}" for one in dict.fromkeys(colour.level_cd_m2 for colour in levels.colours))
    hues = ", ".join(dict.fromkeys(colour.hue for colour in levels.colours))
    window = "not recorded" if levels.area_percent is None else f"{levels.area_percent:g} %"
    return (("colours of", levels.inside), ("hues", hues), ("levels", f"{steps} cd/m2"), ("window", window))
