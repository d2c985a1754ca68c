"""Imported readings over time and of luminance alone, and what the bench says of the meter that took them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.results import Results
from benchd.cli import main
from benchd.profile.reading.csv_table import csv_lines
from benchd.report.data.document import quantities, to_json
from benchd.report.data.log_reference import LogReference
from benchd.run.job import plan_job
from benchd.run.log.given_readings import read_given, template
from benchd.run.log.journal import LogFile
from tests.plan.helpers import refusal
from tests.report.logged import records

HDR = """\
plan: own
signal: {transfer: pq, bits: 10, range: full}
warm_up: none
look_again: false
blocks:
  - peak: {areas_percent: [10, 100]}
  - sustained: {areas_percent: [10], minutes: 2, black_s: 20}
  - halo: {distances_percent: [2, 10], boards: []}
"""
BENCH = """\
bench: own
screen: {prompt: a lamp, size: 1920x1080}
instruments: {meter: {command: [bridge], range_cd_m2: [0.02, 2000], resolution: {Y: 0.01}}}
uncertainty: {calibration_percent: 2}
"""


@pytest.fixture
def hdr(tmp_path: Path) -> Path:
    plan = tmp_path / "own.yaml"
    plan.write_text(HDR)
    return plan


def imported(tmp_path: Path, text: str, plan: str, *words: str) -> Results:
    """Through the command line."""
    own, log = tmp_path / "own.csv", tmp_path / "own.log"
    own.write_text(text)
    log.unlink(missing_ok=True)
    assert main(["import", str(own), "--plan", plan, "--log", str(log), *words]) == 0
    return analyse(LogFile(log).records())


def faults(plan: str, text: str) -> list[str]:
    return [str(fault) for fault in refusal(read_given, text, "own.csv", plan_job(plan).steps).faults]


def test_the_template_says_where_the_window_is_and_when_to_read(
    hdr: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["import", "--plan", str(hdr), "--template"]) == 0
    text = capsys.readouterr().out
    lines = text.splitlines()
    assert lines[2] == "step,X,Y,Z,status,after_s"
    (peak,) = [line for line in lines if line.startswith("# peak/10:")]
    assert "code 1023,1023,1023 in a window of 10 % of the screen in its middle, on 0,0,0" in peak
    assert lines[lines.index(peak) + 1].startswith("# first 10 s of code 0,0,0 over the whole screen; after_s: seconds")
    # The halo's window is 4 % of the area: a side of 0.2, so that 2 % beside the middle its own is at 0.5 + 0.02 + 0.1.
    (beside,) = [line for line in lines if line.startswith("# halo/right/2:")]
    assert "with its middle at 0.62, 0.5 of width and height, meter at centre (0.5, 0.5 of width and height)" in beside
    times = [line.rpartition(",")[2] for line in lines if line.startswith("sustained/10,")]
    assert times == [*map(str, range(11)), "30", "60", "120"]
    assert faults(str(hdr), text)[0].endswith("no readings; below the first line belongs a line for each")
    filled = text.replace("sustained/10,,,,,120", "sustained/10,950,1000,1080,,121.5")
    (given,) = read_given(filled, "own.csv", plan_job(str(hdr)).steps)
    assert (given.step, given.after_s) == ("sustained/10", 121.5)


def test_peak_sustained_and_halo_are_imported_from_luminance_and_time(hdr: Path, tmp_path: Path) -> None:
    light = {0: 980.0, 1: 1010.0, 3: 1000.0, 10: 900.0, 30: 800.0, 60: 700.0, 120: 600.0}
    lines = ["step,Y,after_s"]
    for step, last_s, factor in (("peak/10", 60, 1.0), ("peak/100", 60, 0.5), ("sustained/10", 120, 1.0)):
        lines += [f"{step},{factor * value},{after_s}" for after_s, value in light.items() if after_s <= last_s]
    lines += ["halo/window,1000,"] * 3 + ["halo/black,0.02,"] * 3 + ["halo/right/2,0.50,", "halo/right/2,0.51,"]
    lines += ["halo/right/10,0.10,", "halo/right/10,0.11,"]
    results = imported(tmp_path, "\n".join(lines) + "\n", str(hdr))
    (peak,), (sustained,), (halo,) = results.of("peak"), results.of("sustained"), results.of("halo")
    assert (peak.maximum.value, peak.maximum_area_percent) == (1010.0, 10.0)
    assert peak.full_over_maximum.value == pytest.approx(0.5)
    assert {one.after_s: one.luminance.value for one in peak.windows[0].moments} == {1: 1010, 10: 900, 30: 800, 60: 700}
    assert sustained.windows[0].moments[-1].share.value == pytest.approx(100.0 * 600.0 / 1010.0)
    assert sustained.windows[0].below_95_after_s.value == pytest.approx(10.0)
    assert [(one.distance_percent, one.black.value) for one in halo.beside] == [
        (2.0, pytest.approx(0.505)),
        (10.0, pytest.approx(0.105)),
    ]
    assert halo.sequential.value == pytest.approx(50_000.0)
    assert not results.interrupted


def test_the_open_text_format_has_no_times_so_that_readings_over_time_are_not_measured(
    hdr: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = "step,X,Y,Z,after_s\npeak/10,950,1000,1080,0\nhalo/window,950,1000,1080,\n"
    imported(tmp_path, text, str(hdr))
    capsys.readouterr()
    assert main(["results", str(tmp_path / "own.log"), "--format", "colour-text"]) == 0
    back = imported(tmp_path, capsys.readouterr().out, str(hdr))
    assert back.of("peak")[0].maximum.why == "sizes 10 % and 100 % were not measured"
    assert back.of("halo")[0].window.value == pytest.approx(1000.0)


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ("peak/10,1000,", "own.csv:2:14: peak/10 is read over time: a column after_s must give the seconds"),
        ("peak/10,1000,soon", "own.csv:2:14: after_s 'soon': seconds from the window's appearance, 0 or more"),
        ("peak/10,1000,-1", "own.csv:2:14: after_s '-1': seconds"),
        ("halo/black,0.02,3", "own.csv:2:17: after_s is for readings over time, and halo/black is none"),
        ("peak/10,1000,5\npeak/10,1000,4", "own.csv:3:14: after_s 4 is before that of the reading above it"),
    ],
)
def test_a_fault_in_a_reading_over_time(hdr: Path, line: str, fault: str) -> None:
    assert any(one.startswith(fault) for one in faults(str(hdr), f"step,Y,after_s\n{line}\n"))


def test_without_the_column_every_reading_over_time_is_a_fault(hdr: Path) -> None:
    found = faults(str(hdr), "step,Y\npeak/10,1000\nhalo/black,0.02\n")
    assert found == [
        "own.csv:2:1: peak/10 is read over time: a column after_s must give the seconds from the window's appearance"
    ]


def figures(results: Results) -> dict[str, tuple[float | None, str | None, bool]]:
    blocks = to_json(results, LogReference("x.log", "0" * 64))
    return {
        path: (one["value"], one["bound"], one["expanded_uncertainty"] is not None) for path, one in quantities(blocks)
    }


@pytest.mark.parametrize("plan", ["sdr-standard", "colour-standard"])
def test_luminance_alone_has_the_figures_of_luminance_and_none_of_colour(plan: str, tmp_path: Path) -> None:
    readings = [one for one in records(plan) if one.kind == "reading" and not one.step.startswith("warm-up")]
    words = {"X,Y,Z": [", ".join(map(repr, one.body["xyz"])) for one in readings]}
    words["Y"] = [repr(one.body["xyz"][1]) for one in readings]
    found = {}
    for columns, cells in words.items():
        text = "\n".join(
            [f"step,{columns}", *(f"{one.step},{light}" for one, light in zip(readings, cells, strict=True))]
        )
        found[columns] = figures(imported(tmp_path, text + "\n", plan))
    alone, full = found["Y"], found["X,Y,Z"]
    kept = {path for path, one in alone.items() if one[0] is not None}
    assert {path: alone[path][:2] for path in kept} == {path: full[path][:2] for path in kept}
    lost = {path for path in full if full[path][0] is not None and path not in kept}
    assert [path for path in lost if path.endswith(("/luminance", "/white", "/black", "/ratio", "/gamma"))] == []
    assert not [path for path in kept if any(part in path for part in ("chromaticity", "delta_", "coverage", "duv"))]
    if plan == "sdr-standard":
        for path in ("luminance/white", "contrast/sequential/ratio", "uniformity/white/non_uniformity"):
            assert alone[path][0] is not None, path
        assert alone["grayscale/gamma_fits/white_fixed/gamma"][2], "with its uncertainty"


def test_one_line_of_a_colorimeter_s_file_may_have_luminance_alone(tmp_path: Path) -> None:
    text = "step,Y,x,y\nluminance/white,320,0.3127,0.329\nluminance/black,0.3,,\nluminance/black,0.31,,\n"
    results = imported(tmp_path, text, "quick")
    (luminance,) = results.of("luminance")
    assert luminance.white_chromaticity.x.value == pytest.approx(0.3127)
    assert luminance.black.value == pytest.approx(0.305)


def test_the_bench_s_range_resolution_and_uncertainty_count(tmp_path: Path) -> None:
    bench = tmp_path / "bench.yaml"
    bench.write_text(BENCH)
    text = "step,Y\n" + "luminance/white,320.0\n" * 3 + "luminance/black,0.01\n" * 3
    words = ("--bench", str(bench))
    results = imported(tmp_path, text, "quick", *words)
    (luminance,) = results.of("luminance")
    assert (luminance.black.bound, results.meter["floor_cd_m2"]) == ("below", 0.02)
    assert luminance.black.value == pytest.approx(0.02, abs=1e-3), "the lower limit of the range"
    # Scale 2 % at k = 2 (the factor stated), and half a step of 0.01 over the root of three.
    assert luminance.white.u == pytest.approx(((0.01 * 320.0) ** 2 + 0.01**2 / 12.0) ** 0.5, rel=1e-6)
    rows = results.meter["resolution"]
    assert isinstance(rows, list)
    assert rows[1] == {"quantity": "Y", "up_to": None, "step": 0.01, "from": "stated by bench own"}
    dim = imported(tmp_path, text.replace("0.01\n", "0.03\n"), "quick", *words).of("luminance")[0].black
    assert dim.bound is None
    assert dim.u == pytest.approx(0.01 / 12.0**0.5, rel=0.01), "three equal readings"
    assert imported(tmp_path, text, "quick", *words, "--floor", "0.005").meter["floor_cd_m2"] == 0.005


def test_the_last_digit_of_foot_lamberts_is_in_foot_lamberts(tmp_path: Path) -> None:
    [light] = imported(tmp_path, "step,Y\n" + "luminance/white,93.4\n" * 3, "quick", "--unit", "fL").of("luminance")
    assert light.white.u == pytest.approx(0.1 * 3.4262591 / 12.0**0.5)


def test_budget_and_open_text_of_luminance_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    imported(tmp_path, "step,Y\n" + "luminance/white,320.1\n" * 3 + "luminance/black,0.31\n" * 3, "quick")
    log = str(tmp_path / "own.log")
    capsys.readouterr()
    assert main(["results", log, "--budget", "black luminance", "--json"]) == 0
    budget = json.loads(capsys.readouterr().out)
    assert budget["figures"][0]["sources"][0]["source"] == "resolution of Y, 0.01 cd/m2, a guess"
    assert {row["from"] for row in budget["resolution"]} == {"a guess: the last printed digit"}
    assert main(["results", log, "--format", "colour-text"]) == 0
    assert 'BENCHD_WITHOUT_FIGURES\t"luminance/white luminance/black"' in capsys.readouterr().out


def test_a_step_s_name_with_a_comma_stands_between_quotation_marks(tmp_path: Path) -> None:
    assert [cell.text for _, cells in csv_lines('a,"b,c", "d,e" ,"f"g,"h') for cell in cells] == [
        "a", "b,c", "d,e", '"f"g', '"h',
    ]  # fmt: skip
    plan = tmp_path / "own.yaml"
    plan.write_text(
        "plan: own\nwarm_up: none\nlook_again: false\nsweep:\n  - {control: preset, values: [standard, warm]}\n"
        "  - {control: brightness, values: [20, 80]}\nblocks:\n  - luminance: {}\n"
    )
    steps = plan_job(str(plan)).steps
    text = template(steps)
    assert '"' in text
    first = next(line for line in text.splitlines() if line.startswith('"'))
    (given,) = read_given(text.replace(first, first.replace(",,,,", ",1,2,3,"), 1), "own.csv", steps)
    assert given.step in [step.id for step in steps]
