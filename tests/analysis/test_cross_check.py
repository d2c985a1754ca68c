"""Colour figures of simulated logs computed again by an independent library; a wrong one is found and named."""

from __future__ import annotations

import ast
import json
from pathlib import Path

import numpy as np
import pytest

from benchd.analysis.analyse import analysed
from benchd.analysis.colour import colorimetry, hlg, itp, planckian, pq, tone_curves
from benchd.analysis.colour import reference_library as reference
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.verdicts import cross_check as core
from benchd.analysis.verdicts.cross_check import TOLERANCES, UNKNOWN, CrossCheck, Kind, cross_check
from benchd.cli import main
from benchd.exits import Exit
from benchd.measurements.registry import cross_check_of, kinds
from benchd.report.data.document import every_figure
from benchd.report.data.log_reference import LogReference
from benchd.run.log.journal import LogFile
from tests.command.conftest import Benchd, benchd  # noqa: F401
from tests.hdr.chain import job_of, session

SDR = """
plan: sdr
target: %s
warm_up: none
settle_s: 0.6
readings: 2
dark_readings: 2
blocks:
  - luminance: {}
  - grayscale: {steps: 9}
  - uniformity: {grid: 3x3}
  - gamut: {}
  - colours: {name: chart, chart: cie-test-colours, also: [76, 94], adaptation: %s, white: measured, space: %s}
"""
SMALL = """
plan: small
target: bt1886
warm_up: none
readings: 2
blocks:
  - grayscale: {steps: 3}
  - colours: {saturations: [100], space: srgb}
"""
HDR = """
plan: hdr
signal: {transfer: %s}
warm_up: none
settle_s: 7
readings: 2
dark_readings: 2
blocks:
  - tone_curve: {steps: 9}
  - colour_levels: {levels_cd_m2: [20, 150]}
  - peak: {areas_percent: [10], for_s: 10}
"""
LOGS = {
    "srgb": (SDR % ("srgb", "bradford", "srgb"), "wide-gamut-lcd"),
    "bound on black": (SDR % ("bt1886", "cat02", "bt2020"), "emissive"),
    "gsdf": (SDR % ("gsdf", "bradford", "p3-cinema"), "office-lcd"),
    "small": (SMALL, "wide-gamut-lcd"),
    "pq": (HDR % "pq, bits: 10, range: narrow", "hdr-zone-lcd"),
    "hlg": (HDR % "hlg, bits: 10, peak_cd_m2: 1000", "hdr-lcd-hlg"),
}
ALLOWED = {
    *(
        "colour.reference_library",
        "colour.target",
        "log.log_data",
        "log.step_data",
        "log.step_light",
        "uncertainty.quantity",
    ),
    *("uncertainty.sources", "verdicts.cross_check", "results", "light.windows_cross_check", "light.window_results"),
}
"""What a cross-check uses of the analysis: shapes, and which light is a bound. No formula of colour."""


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("cross-check")
    found = {}
    for number, (name, (plan, display)) in enumerate(LOGS.items()):
        found[name] = folder / f"{number}.log"
        assert session(job_of(plan), display, found[name])
    return found


@pytest.fixture(scope="module")
def found(logs: dict[str, Path]) -> dict[str, CrossCheck]:
    return {name: checked(log) for name, log in logs.items()}


def checked(log: Path) -> CrossCheck:
    results, readings = analysed(LogFile(log).records())
    return cross_check(results, readings, every_figure(results, LogReference("log", "0" * 64)), cross_check_of)


def test_every_kind_of_figure_agrees(found: dict[str, CrossCheck]) -> None:
    kinds: set[Kind] = set()
    for name, one in found.items():
        assert one.agrees, (name, [each for each in one.compared if not each.agrees])
        assert sum(each.count for each in one.compared) > 50
        kinds |= {each.kind for each in one.compared}
    assert kinds == set(TOLERANCES)


def test_every_figure_is_compared_or_listed(found: dict[str, CrossCheck], logs: dict[str, Path]) -> None:
    for name, one in found.items():
        results, _ = analysed(LogFile(logs[name]).records())
        figures = {id(each): each for _, each in every_figure(results, LogReference("log", "0" * 64))}
        assert one.figures == sum(each.value is not None for each in figures.values())
        assert UNKNOWN not in {each.why for each in one.not_compared}, name
        compared = sum(each.count for each in one.compared)
        listed = sum(sum(each.names.values()) for each in one.not_compared)
        assert compared + listed == one.figures + NUMBERS[name]


NUMBERS = {"srgb": 28, "bound on black": 28, "gsdf": 28, "small": 12, "pq": 24, "hlg": 24}
"""Plain numbers beside the figures: x and y of targets, what codes ask for."""


def test_what_the_library_cannot_compute_is_listed_with_its_reason(found: dict[str, CrossCheck]) -> None:
    names = {name for one in found["srgb"].not_compared for name in one.names}
    assert {"coverage_xy", "coverage_uv", "area_ratio_xy", "volume", "volume_ratio", "hue", "luminance"} <= names
    bounded = {one.why: one.names for one in found["bound on black"].not_compared}
    assert bounded["only a bound is known"]["white_measured"] > 0
    assert bounded["an average in which bounds take part"]["mean"] > 0


def test_an_hlg_peak_beyond_the_librarys_reach_is_listed(tmp_path: Path) -> None:
    log = tmp_path / "hlg.log"
    assert session(job_of(HDR % "hlg, bits: 10, peak_cd_m2: 300"), "hdr-lcd-hlg", log)
    found = checked(log)
    assert found.agrees
    [left] = [one.names for one in found.not_compared if "system gamma" in one.why]
    assert left == {
        **dict.fromkeys(("requested_luminance_cd_m2", "d_i", "d_t", "d_p", "delta_e_itp"), 14),
        **dict.fromkeys(("requested_cd_m2", "mean_delta_e_itp", "max_delta_e_itp"), 1),
    }


WRONG = {
    "x, y": ("small", colorimetry, "xy_from_xyz", 1e-9),
    "u', v'": ("small", colorimetry, "uv_from_xyz", 1e-9),
    "CIEDE2000": ("small", colorimetry, "lab_from_xyz", 1e-6),
    "CIEDE2000, adapted": ("small", colorimetry, "_ciede2000", 1e-5),
    "RGB balance": ("small", colorimetry, "rgb_to_xyz_matrix", 1e-8),
    "tone curve": ("small", tone_curves, "bt1886", 1e-7),
    "PQ": ("pq", pq, "luminance", 1e-7),
    "ICtCp": ("pq", pq, "signal", 1e-7),
    "dE ITP": ("pq", itp, "scaled_with_slopes", 1e-7),
    "HLG": ("hlg", hlg, "luminance", 1e-7),
}


@pytest.mark.parametrize("kind", WRONG)
def test_a_formula_that_is_slightly_wrong_is_found(
    kind: str, logs: dict[str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    name, module, function, off = WRONG[kind]
    right = getattr(module, function)

    def wrong(*words: object, **options: object) -> object:
        found = right(*words, **options)
        if isinstance(found, tuple):
            return (found[0] * (1.0 + off), *found[1:])
        return found * (1.0 + off)

    monkeypatch.setattr(module, function, wrong)
    found = checked(logs[name])
    assert not found.agrees
    [one] = [one for one in found.compared if one.kind == kind]
    assert not one.agrees
    assert one.figure
    assert one.value != one.again


def test_a_wrong_temperature_is_found_and_named(
    logs: dict[str, Path], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A locus of another c2, 0.0016 % off, is 0.1 K at 6500 K."""
    colorimetry._locus.cache_clear()
    monkeypatch.setattr(planckian, "STEP_MK", planckian.STEP_MK * (1.0 + 3e-5))
    try:
        assert main(["results", str(logs["small"]), "--cross-check"]) == Exit.NO
    finally:
        colorimetry._locus.cache_clear()
    said = capsys.readouterr().out.splitlines()
    assert said[0] == said[-1] == "SIMULATED: a simulator took part in these figures"
    assert said[-2].startswith("DISAGREES: CCT at ")
    assert "/cct is " in said[-2]
    [row] = [line for line in said if line.startswith("CCT ")]
    assert "BEYOND" in row


def test_a_figure_for_which_the_library_gives_no_number_does_not_agree(
    logs: dict[str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reference, "uv", lambda xyz: np.full((*np.shape(xyz)[:-1], 2), np.nan))
    found = checked(logs["pq"])
    assert found.agrees  # it has no figure in u', v'
    assert not checked(logs["small"]).agrees


def test_the_check_shares_no_formula_with_what_it_checks() -> None:
    checks = [check for kind in kinds() if (check := cross_check_of(kind))]
    assert len(checks) == 8
    files = {Path(check.__code__.co_filename) for check in checks}
    own = {f"benchd.measurements.{file.parent.name}.results" for file in files}
    for file in (*files, Path(core.__file__), Path(reference.__file__)):
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.Import):
                assert not any(alias.name.startswith("benchd") for alias in node.names), file
            if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("benchd"):
                module = node.module.removeprefix("benchd.analysis").removeprefix(".")
                for alias in node.names:
                    inner = f"{module}.{alias.name}".removeprefix(".")
                    assert {module, inner} & (ALLOWED | own), f"{file}: {ast.unparse(node)}"


def test_a_kind_without_colour_figures_of_its_own_needs_no_check() -> None:
    assert cross_check_of("contrast") is None
    assert cross_check_of("luminance") is None


def test_a_light_on_the_locus_has_a_duv() -> None:
    with reference.quiet():
        uv = reference.library().temperature.CCT_to_uv_Planck1900(np.geomspace(1500.0, 20_000.0, 200))
        u, v = uv.T
        xy = np.stack([3.0 * u, 2.0 * v], axis=-1) / (2.0 * u - 8.0 * v + 4.0)[:, None]
        found = reference.cct_duv(np.stack([xy[:, 0] / xy[:, 1], np.ones(200), (1.0 - xy.sum(axis=1)) / xy[:, 1]], -1))
    assert np.abs(found[:, 1]).max() < 1e-6


def test_the_command(
    logs: dict[str, Path],
    benchd: Benchd,  # noqa: F811
    capsys: pytest.CaptureFixture[str],
) -> None:
    done = benchd("results", logs["pq"], "--cross-check")
    said = done.stdout.splitlines()
    assert said[0] == said[-1] == "SIMULATED: a simulator took part in these figures"
    assert said[-2].startswith("AGREES: ")
    assert any(line.startswith("dE ITP ") for line in said)
    assert not done.stderr
    assert main(["results", str(logs["bound on black"]), "--cross-check", "--json"]) == Exit.COMPLETE
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == "benchd.cross-check/1"
    assert (found["simulated"], found["notice"], found["agrees"]) == (True, "SIMULATED", True)
    assert {one["kind"] for one in found["compared"]} >= {"CCT", "CIEDE2000", "CIE 1976", "CIE 1994", "hue angle"}
    assert all(one["figures"] and one["why"] and one["at"]["figure"] for one in found["compared"])
    assert main(["results", str(logs["pq"]), "--cross-check", "--format", "csv"]) == Exit.BAD_INPUT
    assert "--cross-check is printed with --format text or json" in capsys.readouterr().err


def test_a_log_without_colour_figures_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = tmp_path / "contrast.log"
    assert session(job_of("plan: p\nwarm_up: none\nblocks:\n  - contrast: {}\n"), "office-lcd", log)
    assert main(["results", str(log), "--cross-check"]) == Exit.COMPLETE
    assert capsys.readouterr().out.splitlines()[-2].startswith("NOTHING COMPARED: ")


def test_a_figure_is_a_quantity_or_a_named_number(logs: dict[str, Path]) -> None:
    results, readings = analysed(LogFile(logs["pq"]).records())
    assert readings.started
    block = next(one for one in readings.started.body["blocks"] if one["kind"] == "peak")
    with reference.quiet():
        [again] = cross_check_of("peak")(results.of("peak")[0], block, results, readings)
    assert not isinstance(again.figure, Quantity)
    assert again.figure == ("peak/requested_cd_m2", results.of("peak")[0].requested_cd_m2)
