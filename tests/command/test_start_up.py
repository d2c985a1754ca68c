"""A command starts with what it needs and no more; the figures themselves are in tests/bench."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from pathlib import Path

import pytest

from benchd.cli import build_parser
from benchd.run.job import plan_job
from tests.run.kill_anywhere import session

PLAN = frozenset(
    """measurements.registry plan.bench_fit plan.blocks plan.estimate plan.layout plan.measurement
    plan.offset_readings plan.plan plan.plan_store plan.run_order plan.safety plan.signal plan.step plan.steps
    plan.sweep profile.profile_store profile.reading.base profile.reading.explain profile.reading.strict_yaml
    profile.reading.values profile.target_file profile.timing""".split()  # noqa: SIM905
)
"""What a plan of the commonest blocks needs of its room; another module here is time that every plan takes."""

OF_COLOURS = ("measurements.colours", "measurements.gamut", "measurements.patches")
OF_HDR = (
    "measurements.tone_curve",
    "measurements.halo",
    "measurements.colour_levels",
    "measurements.peak",
    "measurements.sustained",
)
OTHER_KINDS = (
    *OF_COLOURS,
    *OF_HDR,
    "analysis.light",
    "analysis.colour.pq",
    "analysis.colour.hlg",
    "analysis.colour.itp",
)
"""Analysis of colours and of HDR."""

ROOT = Path(__file__).resolve().parents[2] / "benchd"

LOADED = """
import sys, runpy
sys.argv[0] = "benchd"
try:
    runpy.run_module("benchd", run_name="__main__")
except SystemExit as end:
    import os
    threads = os.environ["OPENBLAS_NUM_THREADS"]
    print(*sorted(sys.modules), f"threads={threads}", file=sys.stderr)
    raise
"""


@pytest.fixture(scope="module")
def quick_log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The log of the plan `quick`."""
    log = tmp_path_factory.mktemp("start-up") / "quick.log"
    assert session(plan_job("quick"), log, "office-lcd").complete
    return log


@pytest.fixture(scope="module")
def display_log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The log of a plan with a small one of every SDR block."""
    folder = tmp_path_factory.mktemp("start-up")
    plan = folder / "small.yaml"
    plan.write_text(
        "plan: small\nwarm_up: none\nblocks:\n  - luminance: {}\n  - contrast: {}\n"
        "  - grayscale: {steps: 5}\n  - uniformity: {grid: 2x2}\n"
    )
    assert session(plan_job(str(plan)), folder / "small.log", "office-lcd").complete
    return folder / "small.log"


def loaded(*words: str, code: int = 0) -> set[str]:
    """The modules that a command has imported at its end, and the number of threads that numpy may start."""
    environment = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}
    done = subprocess.run([sys.executable, "-c", LOADED, *words], capture_output=True, text=True, env=environment)
    assert done.returncode == code, done.stderr
    return set(done.stderr.split())


def ours(modules: set[str], *rooms: str) -> set[str]:
    """The modules (not the folders) of some of our rooms, without the package's name."""
    found = {one.removeprefix("benchd.") for one in modules if one.startswith("benchd.")}
    return {one for one in found if one.partition(".")[0] in rooms and (ROOT / f"{one.replace('.', '/')}.py").exists()}


def parsers(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """The commands by name."""
    (commands,) = (action for action in parser._actions if isinstance(action, argparse._SubParsersAction))
    return dict(commands.choices)


def test_a_plan_is_explained_without_the_models_of_a_bench() -> None:
    modules = loaded("plan", "quick")
    assert "benchd.plan.plan" in modules
    assert not modules & {"benchd.profile.bench", "benchd.profile.dialect", "difflib", "numpy", "serial", "pyglet"}
    assert "benchd.profile.bench" in loaded("plan", "quick", "--bench", "sim-office")


def of(*kinds: str) -> set[str]:
    """What plans know of some kinds of measurement."""
    return {f"measurements.{kind}.plan" for kind in kinds}


@pytest.mark.parametrize(
    ("plan", "kinds"),
    [("quick", ("luminance", "contrast")), ("sdr-standard", ("luminance", "contrast", "grayscale", "uniformity"))],
)
def test_a_plan_loads_what_its_blocks_need(plan: str, kinds: tuple[str, ...]) -> None:
    modules = loaded("plan", plan)
    assert not modules & {"numpy", "serial", "pyglet"}
    assert ours(modules, "plan", "profile", "measurements") == PLAN | of(*kinds)
    assert not ours(modules, "analysis") | ours(modules, "run") | ours(modules, "instruments")


def test_blocks_of_other_kinds_are_loaded_where_a_plan_has_them() -> None:
    rooms = ("plan", "profile", "measurements")
    assert ours(loaded("plan", "colour-standard"), *rooms) - PLAN == {
        *of("luminance", "grayscale", "gamut", "colours"),
        "profile.charts",
        *("profile.reading.csv_table", "profile.colour_codes"),
    }
    assert ours(loaded("plan", "hdr-quick"), *rooms) - PLAN == {
        *of("peak", "tone_curve"),
        "plan.windows_layout",
    }


def test_a_check_asks_its_bench_before_it_loads_what_computes(tmp_path: Path) -> None:
    bench = tmp_path / "bench.yaml"
    bench.write_text("bench: none\n")  # refused, which ends the check where it would open its bench
    modules = loaded("check", "--bench", str(bench), code=2)
    assert {"benchd.profile.bench", "benchd.run.session"} <= modules
    assert "numpy" not in modules
    pure = {"quantity", "quotient", "rounding", "sources"}  # of the standard library alone
    assert ours(modules, "analysis") <= {f"analysis.uncertainty.{one}" for one in pure}


def test_results_load_the_analysis_of_what_a_log_holds(quick_log: Path, display_log: Path) -> None:
    modules = loaded("results", str(quick_log))
    assert not modules & {"numpy.random", "numpy.ma", "pydantic", "yaml", "csv", "tempfile", "importlib.metadata"}
    assert not modules & {"colour", "scipy", "aggdraw", "PIL"}
    assert "benchd.analysis.colour.reference_library" not in modules
    rooms = ("analysis", "measurements")
    not_there = (
        *OTHER_KINDS,
        "analysis.sweep",
        "analysis.drift.drift",
    )
    assert not [one for one in ours(modules, *rooms) if one.startswith((*not_there, "measurements.grayscale"))]
    rare = ("report.sections.sweep", "report.sections.drift")
    assert not [one for one in ours(modules, "report") if one.startswith(rare)]
    more = loaded("results", str(display_log))
    assert {
        "benchd.measurements.grayscale.analysis",
        "benchd.measurements.uniformity.analysis",
        "benchd.measurements.grayscale.show",
    } <= more
    assert not [one for one in ours(more, *rooms) if one.startswith(OTHER_KINDS)]
    assert not more & {"pydantic", "yaml", "csv"}


def test_help_needs_no_library_and_numpy_may_start_no_threads() -> None:
    modules = loaded("--help")
    assert not modules & {"numpy", "yaml", "pydantic", "serial", "pyglet", "dataclasses", "tempfile"}
    assert "threads=1" in modules


def test_a_command_alone_is_parsed_like_among_all() -> None:
    whole = build_parser()
    assert len(parsers(whole)) > 10
    for name, parser in parsers(whole).items():
        alone = parsers(build_parser(name))
        assert {name: alone[name].format_help()} == {name: parser.format_help()}
        assert list(alone) == [name]


@pytest.mark.parametrize("first", ["", "--help", "-h", "--version", "pla", "nonsense"])
def test_whoever_asks_for_no_command_sees_all(first: str) -> None:
    assert build_parser(first).format_help() == build_parser().format_help()
