"""The text of a comparison: its width, and differences of figures whose intervals are not symmetrical."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from benchd.analysis.results import Results
from benchd.analysis.uncertainty.cloud import Cloud
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.sources import Fixed, Source
from benchd.analysis.verdicts.comparison import Sample, compare
from benchd.analysis.verdicts.equivalence import Margin
from benchd.report.sections.comparison import comparison_sections
from benchd.report.terminal.section_text import sections_text
from tests.report import made


def largest(read: float, u: float = 1.0) -> Quantity:
    """A colour difference with errors of ``u`` in each of three directions."""
    nodes = [[Fixed(((Source(f"axis {k}"), u),)) for k in range(3)]]
    cloud = Cloud(np.array([[read, 0.0, 0.0]]), nodes)
    return Quantity(cloud.read(0), "1", 3, sources=cloud.row(0))


def log(read: float) -> Results:
    """Results with a mean and a maximum of the grayscale's colour differences."""
    results = made.results()
    several = []
    for block in results.of("grayscale"):
        judged = tuple(replace(one, mean=largest(read), maximum=largest(read)) for one in block.delta_e)
        several.append(replace(block, delta_e=judged))
    return made.changed(results, grayscale=tuple(several))


def compared(
    first: float, second: float, names: tuple[str, str], margin: Margin | None = None, width: int = 100
) -> str:
    samples = [Sample(name, (log(read),), (name,)) for name, read in zip(names, (first, second), strict=True)]
    sections = comparison_sections(compare(samples, {"*": margin} if margin else None), [])
    return sections_text(sections, simulated=False, width=width)


@pytest.mark.parametrize(
    "names",
    [("a", "b"), ("a rather long name of a display, unit 17", "another very long name of a display, unit 2204 (b)")],
)
def test_no_line_exceeds_a_hundred_signs(names: tuple[str, str]) -> None:
    text = compared(5.5, 1.9, names)
    assert max(map(len, text.splitlines())) <= 100
    assert max(map(len, compared(5.5, 1.9, names, width=80).splitlines())) <= 80
    words = set(text.replace("(b)", "").split())
    assert set(" ".join(names).replace("(b)", "").split()) <= words


@pytest.mark.parametrize("margin", [None, Margin(5.0, percent=True)])
def test_a_difference_of_maximum_colour_differences_has_two_ends(margin: Margin | None) -> None:
    """3.4 may be 0.8, 1.9 may be nothing: their difference is told with its two ends, and proves nothing."""
    text = compared(3.4, 1.9, ("a", "b"), margin)
    rows = [line for line in text.splitlines() if "3.4" in line or "-1.5" in line]
    assert len(rows) == 2, "mean and maximum, each with its difference in the same line"
    assert all(" -1.5" in row and "inconclusive" in row and "±" not in row for row in rows)
    assert re.search(r"\(-\d\.\d to \+\d\.\d\)", text)
