"""Serial correlation in the scatter of readings and in the uncertainty of their mean."""

from __future__ import annotations

import math
import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.log.log_data import collect
from benchd.analysis.log.step_data import SeriesReading
from benchd.analysis.noise.reading_noise import WarmUpNoise
from benchd.analysis.noise.serial import CorrelationCurve, Serial, effective_readings, from_warm_up, unbiased
from benchd.analysis.noise.serial_log import decorrelated, serial_of
from benchd.autocorrelation import Lag
from benchd.report.data.document import quantities, to_json
from benchd.report.data.log_reference import LogReference
from benchd.report.terminal.budget_text import budget_text, figures_of
from benchd.run.log.journal import LogFile
from benchd.run.log.records import CONSECUTIVE
from tests.analysis.logs import Log, xyz
from tests.analysis.serial_chain import AR_EVERY_S, measured, truth

LOG = LogReference("a.log", "0" * 64)


def known(rho: float, lags: int = 20, u: float = 0.0) -> CorrelationCurve:
    return CorrelationCurve(tuple(Lag(0.2 * k, rho**k, u) for k in range(1, lags + 1)), 300)


@pytest.mark.parametrize(("rho", "n"), [(0.5, 3), (0.9, 5), (0.9, 10), (0.3, 2)])
def test_mean_and_sample_variance_of_a_first_order_process(rho: float, n: int) -> None:
    """V = (1 + 2 sum (1 - k/n) rho^k) / n in closed form; both also by 20 000 drawn series."""
    found = effective_readings(known(rho), n, 0.2)
    expected = (1.0 + 2.0 * sum((1.0 - k / n) * rho**k for k in range(1, n))) / n
    assert found.mean == pytest.approx(expected)
    assert found.sample == pytest.approx(n * (1.0 - expected) / (n - 1))
    assert found.wider == 1.0, "nothing is uncertain of it here"
    dice = np.random.default_rng(1)
    series = np.empty((20000, n))
    series[:, 0] = dice.normal(size=20000)
    for k in range(1, n):
        series[:, k] = rho * series[:, k - 1] + math.sqrt(1.0 - rho * rho) * dice.normal(size=20000)
    assert series.mean(axis=1).var() == pytest.approx(found.mean, rel=0.05)
    samples = series.var(axis=1, ddof=1)
    assert samples.mean() == pytest.approx(found.sample, rel=0.05)
    assert 2.0 * samples.mean() ** 2 / samples.var() == pytest.approx(found.dof, rel=0.06)


def test_readings_that_are_far_apart_are_independent() -> None:
    found = effective_readings(known(0.9), 5, 60.0)
    assert (found.mean, found.sample, found.dof) == (pytest.approx(0.2), pytest.approx(1.0), pytest.approx(4.0))


def test_correlation_that_is_not_beyond_chance_changes_nothing() -> None:
    found = effective_readings(CorrelationCurve((Lag(0.2, 0.1, 0.13),), 60), 5, 0.2)
    assert found == (0.2, 1.0, 4.0, 1.0)


def test_what_is_uncertain_of_it_makes_the_interval_wider() -> None:
    assert (
        effective_readings(known(0.8, u=0.05), 5, 0.2).wider
        > effective_readings(known(0.8, u=0.02), 5, 0.2).wider
        > 1.0
    )


def test_luminance_and_colour_are_corrected_apart() -> None:
    """X = Y (X / Y): where the light alone is correlated, the ratios keep their variance."""
    correlation = Serial(known(0.9), CorrelationCurve((Lag(0.2, 0.0, 0.1),), 60), "").of(5, 0.2)
    # Y scatters by 1 %, the ratios by 0.1 %, independently.
    y, x_y, z_y = 1e-4, 1e-6, 1e-6
    covariance = (y + x_y, y, y + z_y, y, y, y)
    xx, yy, zz, xy, xz, yz = unbiased(covariance, (1.0, 1.0, 1.0), correlation)
    assert yy == pytest.approx(y / correlation.luminance.sample)
    for ratio in (xx - 2.0 * xy + yy, zz - 2.0 * yz + yy):
        assert ratio == pytest.approx(1e-6)
    assert xz == pytest.approx(yy)


def log_with(serial: object, readings: int = 60) -> Log:
    log = Log([{"name": "luminance", "kind": "luminance"}])
    log.now_ns = 0
    log.measure(CONSECUTIVE, {}, [], code=128)
    log.records[-1].body["serial"] = serial
    log.records[-1].body["readings"] = readings
    for number, light in enumerate((300.0, 300.3, 300.9, 300.6, 300.5)):
        if not number:
            log.shown("luminance/white", {"level": "white"})
        log.now_ns = number * 200_000_000
        log.reading("luminance/white", xyz(light))
    log.add("done", {"readings": 5}, "luminance/white")
    return log


def test_the_log_of_a_warm_up_tells_it_and_the_scatter_is_corrected() -> None:
    rows = [[0.2 * k, 0.9**k, 0.01] for k in range(1, 21)]
    plain, correlated = (log_with(serial) for serial in (None, {"spacing_s": 0.2, "luminance": rows, "colour": rows}))
    before, after = (collect(log.records).measured["luminance/white"] for log in (plain, correlated))
    assert before.covariance is not None
    assert after.covariance is not None
    assert after.spacing_s == 0.2
    sample = effective_readings(known(0.9), 5, 0.2).sample
    assert after.covariance[1] == pytest.approx(before.covariance[1] / sample)
    u_before, u_after = (analyse(log.records).of("luminance")[0].white.u for log in (plain, correlated))
    assert u_before is not None
    assert u_after is not None
    assert u_after == pytest.approx(
        u_before * math.sqrt(5.0 * effective_readings(known(0.9), 5, 0.2).mean / sample), rel=0.1
    )


def test_the_budget_says_what_is_known_and_what_is_not() -> None:
    rows = [[0.2, 0.9, 0.03]]
    said = []
    for serial in (None, {"spacing_s": 0.2, "luminance": rows, "colour": rows}):
        results = analyse(log_with(serial).end())
        said.append(" ".join(budget_text(results, figures_of(results, LOG, ""), 200).split()))
    assert "serial correlation is not known" in said[0]
    assert "serial correlation 0.90 \N{PLUS-MINUS SIGN} 0.06 after 0.2 s (luminance)" in said[1]
    assert "60 consecutive readings at the end of the warm-up: counted" in said[1]


def test_a_series_whose_light_is_steady_teaches_it_and_one_that_fades_does_not() -> None:
    dice = np.random.default_rng(4)
    noise = [0.0]
    for _ in range(299):
        noise.append(0.8 * noise[-1] + 0.6 * float(dice.normal()))

    def series(fading: float) -> list[SeriesReading]:
        lights = [300.0 * (1.0 - fading * k / 300) + noise[k] for k in range(300)]
        figures = [xyz(light) for light in lights]
        return [SeriesReading(0.5 * k, 0.2, (x, y, z), "ok", k) for k, (x, y, z) in enumerate(figures)]

    found = serial_of(None, [series(0.0)])
    assert found is not None
    assert found.luminance.lags[0].lag_s == pytest.approx(0.5)
    assert abs(found.luminance.lags[0].r - 0.8) <= 3.0 * found.luminance.lags[0].u
    assert serial_of(None, [series(0.1)]) is None
    assert serial_of(None, [series(0.0)[:40]]) is None


def test_what_a_warm_up_could_not_tell_is_not_known() -> None:
    assert from_warm_up(None, 60) is None
    assert from_warm_up({"spacing_s": 0.2}, 60) is None


WANTED = re.compile(
    r"luminance/white$|grayscale/.*/luminance$|grayscale/delta_e/white_luminance/mean$|uniformity/white/(non_uniformity|max_delta_uv)$"
)


@pytest.mark.parametrize("rho", [0.5, 0.9])
def test_intervals_hold_the_truth_after_a_warm_up_where_readings_are_correlated(rho: float, tmp_path: Path) -> None:
    """SIMULATED, whole chain, five readings a patch; without the correction 9 to 70 % of them held at 0.9.

    90 % less two standard deviations of chance among so few runs.
    """
    true = truth(tmp_path / "true.log")
    held: Counter[str] = Counter()
    every: Counter[str] = Counter()
    runs = 30
    for seed in range(runs):
        path = measured(tmp_path / f"{seed}.log", seed, -AR_EVERY_S / math.log(rho))
        for name, figure in quantities(to_json(analyse(LogFile(path).records()), LOG)):
            if WANTED.match(name) and figure["low"] is not None and not name.endswith("code-0/luminance"):
                kind = re.sub(r"code-\d+", "*", name)
                every[kind] += 1
                held[kind] += figure["low"] <= true[name] <= figure["high"]
    assert len(every) == 5
    for kind, count in every.items():
        assert held[kind] / count >= 0.90 - 2.0 * math.sqrt(0.1 * 0.9 / runs), kind


def test_the_characterisation_finds_noise_by_differences_of_which_part_is_left() -> None:
    """E[(a - b)^2] / 2 = (1 - r) of the variance, with r after the tenth of a second from one to the next."""
    rows = tuple(Lag(0.1 * k, 0.8**k, 0.0) for k in range(1, 20))
    curve = CorrelationCurve(rows, 300)
    one_part = WarmUpNoise((95.0, 100.0, 109.0), (0.9, 1.0, 1.2, 0.9, 0.95, 1.0), 20)
    (one,) = decorrelated([one_part], Serial(curve, curve, ""))
    assert one.covariance == pytest.approx([value / 0.2 for value in one_part.covariance])
    assert decorrelated([one_part], None) == [one_part]
