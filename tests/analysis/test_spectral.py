"""Between technologies a filter meter's spectral errors count in full; within one, read through one correction, not."""

from __future__ import annotations

import random
from itertools import combinations
from typing import Any

import numpy as np
import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.meter_model.spectral import Spectral, moved_by_spectrum, spectral_in, spectral_words
from benchd.analysis.meter_model.stated_sources import budget_from, channel_gains
from benchd.analysis.results import Results
from benchd.analysis.verdicts.comparison import Comparison, Difference, Sample, compare
from benchd.analysis.verdicts.panel import same_panel
from sim.displays import MODELS, Display
from sim.sensor import METERS
from sim.spectra import observer
from tests.analysis.logs import Log, xyz
from tests.report.logged import records

STATED: dict[str, Any] = {"k": 2.0, "calibration_percent": 4.0, "chromaticity_xy": 0.008}
CORRECTION: dict[str, Any] = {
    "name": "lapwing-white-led",
    "digest": "ab" * 32,
    "technology": "white-led",
    "made": "2025-12-01",
    "luminance_factor": 1.01,
    "reference_meter": {"model": "HERON", "serial_number": "H-1"},
    "reference_uncertainty": {**STATED, "chromaticity_xy": 0.002},
}


def log(white: list[float], technology: str | None = None, *, sample: str = "a/1", **head: Any) -> Results:
    """White and black of one display, three readings each that scatter by 0.02 %."""
    made = Log(
        [{"name": "luminance", "kind": "luminance"}],
        technology=technology,
        sample=sample,
        **{"uncertainty": STATED} | head,
    )
    for level, code, light in (("white", 255, np.array(white)), ("black", 0, np.array(white) * 1e-3)):
        made.measure(
            f"luminance/{level}", {"level": level}, [list(light * f) for f in (0.9998, 1.0, 1.0002)], code=code
        )
    return analyse(made.end())


def compared(*logs: Results) -> Comparison:
    return compare([Sample(f"display {n}", (one,), (f"log {n}",)) for n, one in enumerate(logs)])


def of(comparison: Comparison, name: str) -> Difference:
    found = next(row.differences[1] for row in comparison.rows if row.headline.name == name)
    assert found is not None
    return found


@pytest.mark.parametrize("pair", list(combinations(("office-lcd", "wide-gamut-lcd", "emissive"), 2)))
@pytest.mark.parametrize("stated", [True, False])
def test_a_filter_meter_on_two_technologies(pair: tuple[str, str], stated: bool) -> None:
    """The truth: the same spectra (CIE 015:2018, Brainard 1997) weighted with the CIE 1931 observer."""
    filters = observer(METERS["colorimeter"].filter_shift_nm)
    read, true = [], []
    for name in pair:
        display = Display(MODELS[name])
        read.append(np.sum(display.seen_through(filters)[:3], axis=0))
        true.append(np.sum(display.seen_through(observer())[:3], axis=0))
    logs = [log(list(one), name if stated else None, sample=f"{name}/1") for one, name in zip(read, pair, strict=True)]
    comparison = compared(*logs)
    assert comparison.same_meter
    for which, name in enumerate(("white u'", "white v'")):
        change = of(comparison, name).difference
        assert change is not None
        assert change.interval is not None
        low, high = change.interval
        first, second = (float(colour.uv_from_xyz(one)[which]) for one in true)
        assert low <= second - first <= high
    assert ("technologies differ" if stated else "no bench states the display technology") in comparison.spectral
    assert same_panel(*logs).spectral == comparison.spectral


def test_within_one_technology_and_one_correction_they_cancel() -> None:
    def u(first: Results, second: Results) -> float:
        found = of(compared(first, second), "white u'").difference
        assert found is not None
        assert found.u is not None
        return found.u

    one, other = xyz(300.0), xyz(310.0, 0.3150, 0.3300)
    alone = log(one).of("luminance")[0].white_chromaticity.u_prime.u
    assert alone is not None
    assert u(log(one, "white-led"), log(other, "white-led")) < 0.05 * alone
    in_full = pytest.approx(alone * 2.0**0.5, rel=0.02)
    assert u(log(one, "white-led"), log(other, "qd-led")) == in_full
    assert u(log(one), log(other)) == in_full
    assert u(log(one), log(other, "white-led")) == in_full
    assert u(log(one, "white-led"), log(other, "white-led", correction=CORRECTION)) > alone
    spectral = {**STATED, "instrument": "spectroradiometer"}
    assert u(log(one, uncertainty=spectral), log(other, uncertainty=spectral)) < 0.05 * alone


def test_a_correction_hands_on_what_its_reference_is_sure_of() -> None:
    """Two corrections against one reference meter: what that one does wrong cancels only if no filter makes it so."""
    spectral = {**STATED, "instrument": "spectroradiometer"}
    other = {**CORRECTION, "name": "lapwing-qd", "digest": "cd" * 32, "technology": "qd-led"}
    for lent, words in ((STATED, "technologies differ"), (spectral, "")):
        logs = [
            log(xyz(300.0), one["technology"], correction={**one, "reference_uncertainty": lent})
            for one in (CORRECTION, other)
        ]
        found = of(compared(*logs), "white u'").difference
        assert found is not None
        assert found.u is not None
        assert (found.u > 0.001) == bool(words)
        assert words in compared(*logs).spectral
        assert bool(compared(*logs).spectral) == bool(words)


@pytest.mark.parametrize(
    ("technologies", "names"), [((None, None), 2), (("white-led", "qd-led"), 2), (("one", "one"), 1)]
)
def test_intervals_of_differences_hold_the_truth(technologies: tuple[str | None, str | None], names: int) -> None:
    """A spectral error drawn for each technology, as large as stated: 93 % and more hold, and not all (own draws)."""
    dice, trials = random.Random(5), 150
    held = dict.fromkeys(("white luminance", "white u'"), 0)
    for _ in range(trials):
        errors = [_spectral_error(dice) for _ in range(names)]
        true = [xyz(300.0), xyz(330.0, 0.3200, 0.3350)]
        logs = [
            log(list(np.array(light) * errors[min(n, names - 1)]), technologies[n], sample=f"{n}/1")
            for n, light in enumerate(true)
        ]
        comparison = compared(*logs)
        for name, truth in (
            ("white luminance", true[1][1] - true[0][1]),
            ("white u'", float(colour.uv_from_xyz(np.array(true[1]))[0] - colour.uv_from_xyz(np.array(true[0]))[0])),
        ):
            change = of(comparison, name).difference
            assert change is not None
            assert change.interval is not None
            held[name] += change.interval[0] <= truth <= change.interval[1]
    for count in held.values():
        assert 0.90 * trials <= count <= trials  # 0.95 less three standard deviations of 150 draws


def _spectral_error(dice: random.Random) -> Any:
    """Factors on X, Y, Z: scale 2 %, x and y 0.004 each as standard uncertainties."""
    scale = 1.0 + 0.02 * dice.gauss(0.0, 1.0)
    x, y = (channel_gains(axis, 0.004 * dice.gauss(0.0, 1.0)) for axis in ("x", "y"))
    return scale * np.array([1.0 + x[0] + y[0], 1.0, 1.0 + x[1] + y[1]])


def test_units_of_a_model_do_not_average_the_meter_away() -> None:
    """Three units read by one filter meter: its scale is one error in their mean, whatever is stated of technology."""
    for technology in (None, "white-led"):
        logs = tuple(log(xyz(light), technology, sample=f"a/{n}") for n, light in enumerate((300.0, 300.1, 299.9)))
        spread = tuple(log(xyz(light), technology, sample=f"b/{n}") for n, light in enumerate((300.0, 330.0, 270.0)))
        comparison = compare(
            [Sample(name, one, tuple(f"{name}{n}" for n in range(3))) for name, one in (("a", logs), ("b", spread))]
        )
        row = next(row for row in comparison.rows if row.headline.name == "white luminance")
        for side in row.sides:
            assert side.quantity is not None
            assert side.quantity.u is not None
            assert side.quantity.u >= 0.02 * 300.0 * 0.999


def test_without_a_word_on_the_meter_only_figures_free_of_its_spectral_errors_are_judged() -> None:
    logs = [log(xyz(300.0 * factor), uncertainty=None) for factor in (1.0, 1.2)]
    comparison = compared(*logs)
    assert comparison.same_meter
    assert of(comparison, "white luminance").answer == "inconclusive"
    assert "on another display technology" in of(comparison, "white luminance").why
    stated = compared(*(log(xyz(300.0 * factor), "white-led", uncertainty=None) for factor in (1.0, 1.2)))
    assert of(stated, "white luminance").answer == "different"
    evidence = {one.feature: one for one in same_panel(*logs).evidence}
    assert evidence["white luminance"].finding == "inconclusive"


def test_one_sentence_says_why() -> None:
    led, qd = Spectral("white-led"), Spectral("qd-led")
    assert spectral_words([led, led]) == ""
    assert spectral_words([Spectral("", "", True), Spectral("qd-led", "", True)]) == ""
    assert spectral_words([led, qd]).startswith("the display technologies differ (white-led, qd-led)")
    assert spectral_words([led, Spectral()]).startswith("not every bench states")
    assert spectral_words([Spectral(), Spectral()]).startswith("no bench states")
    assert "different corrections" in spectral_words([led, led._replace(correction="a 01")])
    assert "one kind of instrument" in spectral_words([led, led._replace(by_spectrum=True)])
    assert spectral_in("white-led", {"correction": CORRECTION}, STATED) == Spectral(
        "white-led", f"lapwing-white-led {'ab' * 6}", False
    )
    assert [moved_by_spectrum(*one) for one in (("contrast", "1"), ("gamma", "gamma"), ("white CCT", "K"))] == [
        *(False, False, True)
    ]
    assert moved_by_spectrum("coverage of BT.2020 in xy", "%")
    assert not moved_by_spectrum("non-uniformity of white", "%")


def test_the_sources_name_the_lights_that_they_are_the_same_for() -> None:
    head = {"uncertainty": STATED, "meter": {"model": "LAPWING", "serial_number": "7"}}

    def names(light: str | None) -> list[tuple[str, bool, bool]]:
        budget = budget_from(head, "2026-01-01", light)
        assert budget is not None
        return [
            (source.name.partition(": ")[2], source.shared, source.display)
            for source, _ in budget.vectors((1, 1, 1), "")
        ]

    assert names("white-led")[0] == ("scale on white-led", True, False)
    assert names("")[0] == ("scale", True, False)
    assert names(None)[0] == ("scale", False, True)


def test_drawn_differences_count_them_in_full_too() -> None:
    """Colour differences are drawn, not linear: what two logs share is drawn once only where it is the same."""

    def whole(technology: str | None) -> Results:
        several = list(records("sdr-standard"))
        several[0].body.update(uncertainty=STATED, technology=technology)
        return analyse(several)

    def width(*technologies: str | None) -> float:
        change = of(compared(*map(whole, technologies)), "grayscale delta E mean").difference
        assert change is not None
        assert change.interval is not None
        return change.interval[1] - change.interval[0]

    shared = width("white-led", "white-led")
    assert width(None, None) > 3.0 * shared
    assert width("white-led", "qd-led") > 3.0 * shared
