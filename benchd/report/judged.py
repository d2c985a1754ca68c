"""What a log's figures were held against, in words: an SDR target, or the curve and the colours of an HDR signal."""

from __future__ import annotations

from collections.abc import Mapping

from benchd.analysis.figure_conditions import target_text
from benchd.analysis.results import Results
from benchd.report.words import SIGNALS

PRIMARIES = {"bt709": "ITU-R BT.709", "p3-d65": "P3 with D65", "bt2020": "ITU-R BT.2020"}
"""Names of the primaries whose colours a list of levels is made of."""
_ENDS = {"pq": "clipped at the measured peak", "hlg": "through the measured peak and black"}


def judged_by(results: Results) -> str:
    """One line for a report's head and for the data; "" where no figure is held against anything.

    A plan always names an SDR target; with an HDR signal no curve is judged by it, so it is named for what it judges.
    """
    target = results.target
    if not isinstance(results.settings.get("signal"), Mapping):
        return "" if target is None else target_text(target)
    found = [
        f"{SIGNALS.get(one.transfer, one.transfer)} curve {_ENDS.get(one.transfer, '')}, greys against D65"
        for one in results.of("tone_curve")
    ]
    found += [
        f"{SIGNALS.get(one.transfer, one.transfer)} light of each colour, colours of "
        f"{PRIMARIES.get(one.inside, one.inside)}"
        for one in results.of("colour_levels")
    ]
    if target is not None and results.of("gamut"):
        found.append(f"hues of the gamut: primaries and white of {target.name}")
    return "; ".join(dict.fromkeys(found))
