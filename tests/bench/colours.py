"""Colour: CIEDE2000 on long arrays against colour-science, and the results of a whole display."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

from tests.bench.figures import Figure, Settings, not_measured, tell
from tests.bench.process import python

PAIRS = 1_000_000
QUICK_PAIRS = 200_000
MAX_RATIO = 1.2
MAX_DISPLAY_S = 0.5
ROUNDS = 5

_DIFFERENCES = """
import json, sys, time, warnings
import numpy as np
warnings.simplefilter("ignore")
import colour as oracle
from benchd.analysis.colour.colorimetry import delta_e_2000
random = np.random.default_rng(1)
first = random.uniform((0.0, -100.0, -100.0), (100.0, 100.0, 100.0), (int(sys.argv[1]), 3))
second = first + random.normal(0.0, 3.0, first.shape)
ours, theirs = [], []
for _ in range(int(sys.argv[2])):
    start = time.perf_counter()
    one = delta_e_2000(first, second)
    middle = time.perf_counter()
    other = oracle.difference.delta_E_CIE2000(first, second)
    ours.append(middle - start)
    theirs.append(time.perf_counter() - middle)
print(json.dumps([min(ours), min(theirs), float(abs(one - other).max())]))
"""

_DISPLAY = """
import json, sys, time
from pathlib import Path
from benchd.analysis.analyse import analyse
from benchd.report.data.document import json_text, to_json
from benchd.report.data.log_reference import LogReference
from benchd.report.terminal.results_text import render_text
from benchd.run.log.journal import LogFile
log, found = Path(sys.argv[1]), []
for _ in range(int(sys.argv[2])):
    start = time.perf_counter()
    results = analyse(LogFile(log).records())
    text = render_text(results)
    middle = time.perf_counter()
    document = json_text(to_json(results, LogReference("a.log", "0" * 64)))
    found.append((middle - start, time.perf_counter() - start))
print(json.dumps([min(one[0] for one in found), min(one[1] for one in found), results.steps_done]))
"""

PLAN = """\
plan: whole-display
warm_up: none
blocks:
  - luminance: {}
  - contrast: {kinds: [sequential, checkerboard]}
  - grayscale: {steps: 21}
  - uniformity: {grid: 5x5, levels_percent: [100, 50]}
  - gamut: {volume_grid: 5}
  - colours: {name: saturations, saturations: [20, 40, 60, 80, 100]}
  - colours: {name: chart, chart: cie-test-colours}
  - colours: {name: random, random: 50}
"""


def colours(settings: Settings) -> Iterator[Figure]:
    """Both figures."""
    yield _differences(QUICK_PAIRS if settings.quick else PAIRS, settings.folder)
    yield from _display(settings.folder)


def _differences(pairs: int, folder: Path) -> Figure:
    name = f"CIEDE2000 of {pairs} pairs"
    tell(name)
    done = python(["-c", _DIFFERENCES, str(pairs), str(ROUNDS)], folder)
    ours_s, theirs_s, apart = json.loads(done.stdout)
    return Figure(
        name,
        1000.0 * ours_s,
        "ms",
        1000.0 * theirs_s,
        against="colour-science (delta_E_CIE2000) on the same arrays, in the same process in turn",
        goal=f"at most {MAX_RATIO} x",
        met=ours_s <= MAX_RATIO * theirs_s,
        notes=(f"largest difference between the two: {apart:.1e}",),
    )


def _display(folder: Path) -> Iterator[Figure]:
    from benchd.run.job import plan_job
    from tests.run.kill_anywhere import session

    tell("results of a whole display")
    plan, log = folder / "whole-display.yaml", folder / "whole-display.log"
    plan.write_text(PLAN, encoding="utf-8")
    if not session(plan_job(str(plan)), log, "wide-gamut-lcd").complete:
        yield not_measured("results of a whole display", "the simulated run did not complete")
        return
    text_s, data_s, steps = json.loads(python(["-c", _DISPLAY, str(log), str(ROUNDS)], folder).stdout)
    for name, seconds, what in (
        ("results of a whole display, page", text_s, "page"),
        ("results of a whole display, page and JSON", data_s, "page, then JSON with an interval for every figure"),
    ):
        yield Figure(
            name,
            seconds,
            "s",
            goal=f"under {MAX_DISPLAY_S} s",
            met=seconds < MAX_DISPLAY_S,
            notes=(f"{steps} steps, SIMULATED; after imports: reading, analysis and {what}",),
        )
