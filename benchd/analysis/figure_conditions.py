"""What a figure holds for, as part of the figure: figures are compared, ranked and judged only under equal conditions.

A condition is a name and a text: ("target", "srgb: sRGB curve after IEC 61966-2-1, ..."), ("window", "10 %"). What is
in a figure's name already (its space and diagram, its list of colours, the size of a peak's window) is not repeated.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from benchd.analysis.colour.target import Target

SIGNALS = {"pq": "PQ (SMPTE ST 2084)", "hlg": "HLG (ITU-R BT.2100)"}
"""Names of HDR signals."""

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
