"""What a log's figures were held against, in words: an SDR target, or the curve and the colours of an HDR signal."""

from __future__ import annotations

from collections.abc import Mapping

from benchd.analysis.figure_conditions import target_text
from benchd.analysis.results import Results
from benchd.report.measurement import show_part, shown_blocks


def judged_by(results: Results) -> str:
    """One line for a report's head and for the data; "" where no figure is held against anything.

    A plan always names an SDR target; with an HDR signal no curve is judged by it, so it is named for what it judges.
    """
    target = results.target
    if not isinstance(results.settings.get("signal"), Mapping):
        return "" if target is None else target_text(target)
    found = [show_part(kind).against(block) for kind, block in shown_blocks(results)]
    return "; ".join(dict.fromkeys(one for one in found if one))
