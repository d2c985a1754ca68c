"""A replay of a run that was killed and resumed: every figure with its uncertainty, to the last bit. SIMULATED.

A log that is cut after a record is what a kill after that record leaves: each is on disk before the next action. The
noise of the meter here does not repeat, so that a step read twice is no step read once.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from benchd.analysis.analyse import analyse
from benchd.clock import CompanionClock
from benchd.errors import LogRefused
from benchd.report.data.document import Json, to_json
from benchd.report.data.log_reference import LogReference
from benchd.report.terminal.compare_options import APART, REPLAYED, difference
from benchd.run.job import bench_job, plan_job
from benchd.run.log.journal import LogFile
from benchd.run.log.replay_log import read_script, replay, seconds, step_of
from benchd.run.operator_checks import Operator
from benchd.run.session import resume, start

ROOT = Path(__file__).resolve().parents[2]
PLANS = {
    "sweep": """
target: srgb
warm_up: {until: stable, at_least_min: 1, at_most_min: 8}
reference: {every_min: 1}
sweep: [{control: brightness, values: {from: 0, to: 100, step: 25}, settle_s: 5}]
blocks: [luminance: {}, contrast: {kinds: [sequential]}, grayscale: {steps: 5}]
""",
    "compensated": """
target: srgb
warm_up: none
reference: {every_min: 1, compensate: true}
blocks: [luminance: {}, grayscale: {steps: 11}, uniformity: {grid: 3x3, levels_percent: [100]}]
""",
    "precise": """
target: srgb
warm_up: {until: stable, at_least_min: 1, at_most_min: 8}
repeatability: 0.5 %
blocks: [luminance: {}, grayscale: {steps: 5}, uniformity: {grid: 3x3, levels_percent: [100]}]
""",
    "series": """
signal: {transfer: pq, bits: 10, range: full}
warm_up: none
blocks: [tone_curve: {steps: 9}, peak: {areas_percent: [10]}]
""",
    "repeats": """
target: srgb
warm_up: none
blocks: [luminance: {}, contrast: {kinds: [sequential, checkerboard]}, grayscale: {steps: 9}, gamut: {}]
""",
}
BENCHES = {"series": "sim-hdr-emissive"}
"""Which simulated bench, where it is not sim-office."""
FEW = [("sweep", 0.6), ("compensated", 0.35), ("precise", 0.7), ("series", 0.6)]
"""Plan, and the share of its records after which it is killed."""
MANY = [(plan, share / 20 + 0.013) for plan in PLANS for share in range(20)]


def whole(folder: Path, name: str) -> Path:
    """The log of a run that nothing interrupted."""
    plan, bench, log = folder / f"{name}.yaml", folder / f"bench-{name}.yaml", folder / f"{name}.log"
    if not log.exists():
        plan.write_text(f"plan: {name}\n{PLANS[name]}")
        known = (ROOT / f"profiles/benches/{BENCHES.get(name, 'sim-office')}.yaml").read_text()
        assert known.count("--seed") == 1
        bench.write_text(known.replace("--seed", "--noise, sequence, --seed"))
        done = start(plan_job(str(plan)), bench_job(str(bench)), log, Operator(), sample="")
        assert done.complete
    return log


def killed(log: Path, after: int, to: Path) -> Path:
    """What a kill after so many records leaves of ``log``, with a piece of the next line."""
    lines = log.read_bytes().splitlines(keepends=True)
    to.write_bytes(b"".join(lines[:after]) + lines[after][:20])
    return to


def results(log: Path) -> Json:
    return to_json(analyse(LogFile(log).records()), LogReference("", ""))


def check_replay(log: Path, again: Path) -> Json:
    """The results, which those of the replay are equal to."""
    assert replay(log, again).complete
    first = results(log)
    assert difference(first, results(again), REPLAYED, APART) == []
    return first


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("replay")


@pytest.mark.parametrize(
    ("plan", "share"), [*FEW, *(pytest.param(*one, marks=pytest.mark.long) for one in MANY)], ids=str
)
def test_a_run_killed_and_resumed_is_replayed_with_its_sessions_moves_and_times(
    folder: Path, tmp_path: Path, plan: str, share: float
) -> None:
    log = whole(folder, plan)
    records = sum(1 for _ in LogFile(log).records())
    cut = killed(log, max(1, int(share * records)), tmp_path / "cut.log")
    assert resume(cut, Operator()).complete
    found = check_replay(cut, tmp_path / "again.log")
    assert found["sessions"] == 2
    twice = killed(cut, sum(1 for _ in LogFile(cut).records()) * 4 // 5, tmp_path / "twice.log")
    check_replay(twice, tmp_path / "part.log")
    assert resume(twice, Operator()).complete
    assert check_replay(twice, tmp_path / "twice-again.log")["sessions"] == 3


def test_a_warm_up_and_a_reference_again_after_a_long_pause_are_replayed(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = whole(folder, "sweep")
    after = next(one.seq for one in LogFile(log).records() if one.step == "brightness=50/luminance/white")
    cut = killed(log, after, tmp_path / "cut.log")
    monkeypatch.setattr(CompanionClock, "virtual", False)  # how long a pause was is known on real time only
    monkeypatch.setattr("benchd.run.session.seconds_since", lambda wall: 7200.0)
    assert resume(cut, Operator()).complete
    found = check_replay(cut, tmp_path / "again.log")
    assert len(found["later_warm_ups"]) == 1


def test_of_an_operator_who_moves_the_meter_each_move_is_replayed(folder: Path, tmp_path: Path) -> None:
    plan, bench, log = tmp_path / "p.yaml", tmp_path / "b.yaml", tmp_path / "hand.log"
    plan.write_text(f"plan: moved\n{PLANS['compensated']}")
    known = (ROOT / "profiles/benches/sim-office.yaml").read_text()
    bench.write_text("".join(line for line in known.splitlines(True) if not line.startswith("  stage:")))
    asked: list[str] = []
    done = start(
        plan_job(str(plan)),
        bench_job(str(bench)),
        log,
        Operator(ask=lambda place, at: asked.append(place)),
        sample="",
    )
    assert done.complete
    assert len(asked) == 8, "every place but the centre"
    check_replay(log, tmp_path / "again.log")


def test_a_step_that_no_plan_has_is_refused_by_its_name(folder: Path) -> None:
    script = read_script(whole(folder, "repeats"))
    name, counted = next(iter(script.steps.items()))
    with pytest.raises(LogRefused, match="step gone/white is none of its plan's"):
        step_of("gone/white", counted, {}, "a.log")
    assert name


@pytest.mark.parametrize("mono_ns", [0, 1, 2299999999, 319795000001, 4_503_599_627_370_497, 9_007_199_254_740_993])
def test_bench_time_is_kept_to_the_nanosecond(mono_ns: int) -> None:
    kept = int((mono_ns / 1e9) * 1e9)  # as a log has it: of a time that is a float
    assert int(seconds(kept) * 1e9) == kept
