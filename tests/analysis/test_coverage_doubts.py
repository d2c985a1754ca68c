"""What the coverage study found short is a doubt where a log shows it, in text and data; elsewhere it is none."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.results import Results
from benchd.report.data.document import to_json
from benchd.report.sections.conditions import invalidation_words
from tests.analysis.logs import Log, xyz
from tests.coverage.bench import HeavyTails
from tests.coverage.trial import DRAWN

GREYS = 40


def log_of(draw: Callable[[], float], count: int = 5) -> Results:
    """Greys of one display whose X, Y and Z are each off by 0.1 % times what is drawn."""
    names = [f"grey-{number}" for number in range(GREYS)]
    log = Log([{"name": "patches", "kind": "patches", "names": names}])
    for number, name in enumerate(names):
        light = xyz(1.0 + 2.0 * number)
        readings = [tuple(value * (1.0 + 0.001 * draw()) for value in light) for _ in range(count)]
        log.measure(f"patches/{name}", {"name": name}, readings, code=number + 1)
    return analyse(log.end())


def heavy() -> Callable[[], float]:
    noise = HeavyTails(3)
    return lambda: noise.draw("", (0.0, 0.0), 0)[0]


def gaussian() -> Callable[[], float]:
    dice = Random(3)
    return lambda: dice.gauss(0.0, 1.0)


def test_heavy_tails_are_a_doubt_of_all_steps_in_text_and_data() -> None:
    results = log_of(heavy())
    (doubt,) = results.doubts
    assert doubt.about == "coverage"
    assert len(doubt.steps) == GREYS
    assert to_json(results, DRAWN)["doubts"][0]["text"] == doubt.text
    (words,) = invalidation_words(results)
    assert words.startswith("in doubt: standard deviations of steps of like light differ as with heavy tails")
    assert words.endswith(": 40 steps, from patches/grey-0")


@pytest.mark.parametrize("count", [2, 5])
def test_gaussian_noise_is_no_doubt(count: int) -> None:
    assert log_of(gaussian(), count).doubts == ()


def test_few_readings_are_no_sign_of_heavy_tails() -> None:
    assert log_of(heavy(), 2).doubts == ()


@pytest.mark.parametrize(("count", "doubted"), [(2, 4), (3, 0)])
def test_two_readings_of_a_grid_are_a_doubt_of_its_steps(count: int, doubted: int) -> None:
    level = {"level": "white", "percent": 100, "code": 255}
    log = Log([{"name": "uniformity", "kind": "uniformity", "columns": 2, "rows": 2, "levels": [level]}])
    for row, column in ((1, 1), (1, 2), (2, 1), (2, 2)):
        labels = {"row": row, "column": column, "level": "white", "level_percent": 100}
        readings = [xyz(300.0 + row + 0.1 * number) for number in range(count)]
        log.measure(f"uniformity/r{row}c{column}/white", labels, readings, code=255)
    assert sum(len(doubt.steps) for doubt in analyse(log.end()).doubts) == doubted
