"""Noise that goes on from step to step: what their means share adds up in a mean and goes out of a ratio."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.log.log_data import collect
from benchd.analysis.noise.serial_log import StepLink, noise_of
from benchd.analysis.uncertainty.quantity import ratio
from benchd.run.log.records import CONSECUTIVE
from tests.analysis.logs import Log, xyz

RHO, EVERY_S, N = 0.9, 0.2, 5
ROWS = [[EVERY_S * k, RHO**k, 0.01] for k in range(1, 21)]
SECOND_NS = 1_000_000_000


def log_of(apart_s: float, *, serial: bool = True, resumed: bool = False) -> Log:
    """Two patches of five readings; the second begins ``apart_s`` after the last reading of the first."""
    log = Log([{"name": "patches", "kind": "patches", "names": ["a", "b"]}])
    log.now_ns = 0
    log.measure(CONSECUTIVE, {}, [], code=128)
    log.records[-1].body.update({"readings": 300, "serial": {"luminance": ROWS, "colour": ROWS} if serial else None})
    dice = np.random.default_rng(1)
    now_s = 10.0
    for name, code in (("a", 200), ("b", 210)):
        log.now_ns = round(now_s * SECOND_NS)
        log.shown(f"patches/{name}", {"name": name}, code)
        for number in range(N):
            log.now_ns = round((now_s + EVERY_S * number) * SECOND_NS)
            log.reading(f"patches/{name}", xyz(100.0 + float(dice.normal(0.0, 0.1))))
        log.add("done", {"readings": N}, f"patches/{name}")
        now_s += EVERY_S * (N - 1) + apart_s
        if resumed:
            log.session = "s2"
            log.add("resumed", {})
    return log


def test_means_of_neighbours_are_correlated_as_their_readings_are() -> None:
    """cov = sum of rho^(lag) over all pairs; over the root of both variances of the mean."""
    apart_s = 0.6
    link = collect(log_of(apart_s).records).metrology.links["patches/b"]
    times = np.concatenate([np.arange(N) * EVERY_S, (N - 1) * EVERY_S + apart_s + np.arange(N) * EVERY_S])
    matrix = RHO ** (np.abs(np.subtract.outer(times, times)) / EVERY_S)
    expected = matrix[:N, N:].mean() / matrix[:N, :N].mean()
    assert link.before == "patches/a"
    assert link.luminance == pytest.approx(expected, rel=0.01)
    assert link.colour == pytest.approx(expected, rel=0.01)


def test_what_is_common_adds_up_in_a_sum_and_goes_out_of_a_ratio() -> None:
    def figures(apart_s: float) -> tuple[float, float, float]:
        first, second = (one.luminance for one in analyse(log_of(apart_s).end()).of("patches")[0].patches)
        u, of_ratio = first.u, ratio(first, second).u
        assert u is not None
        assert of_ratio is not None
        assert first.sources is not None
        assert second.sources is not None
        one, other = first.sources.contributions() or {}, second.sources.contributions() or {}
        shared = sum(part * other.get(source, 0.0) for source, part in one.items())
        return of_ratio, shared, u

    near, far = figures(0.4), figures(60.0)
    assert near[0] < 0.8 * far[0]
    assert near[1] > 0.0
    assert far[1] == 0.0
    assert near[2] == pytest.approx(far[2]), "each by itself is as uncertain as before"


def test_across_a_pause_and_without_correlation_nothing_is_common() -> None:
    assert not collect(log_of(0.4, resumed=True).records).metrology.links
    assert not collect(log_of(0.4, serial=False).records).metrology.links


def test_a_chain_of_steps_is_a_first_order_process() -> None:
    """Correlation of two steps k links apart: the product of the links between (as rho^k)."""
    links = {f"s{k}": StepLink(f"s{k - 1}", 0.7, 0.2) for k in range(1, 9)}
    dofs = {f"s{k}": 4.0 for k in range(9)}
    noise = [dict(noise_of(f"s{k}", 0, dofs, links)) for k in range(9)]
    for one in noise:
        assert math.fsum(share * share for share in one.values()) == pytest.approx(1.0)
    for apart in (1, 2, 3):
        common = sum(share * noise[5].get(source, 0.0) for source, share in noise[5 + apart].items())
        assert common == pytest.approx(0.7**apart, abs=0.05)
