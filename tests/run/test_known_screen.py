"""What a screen reported when it was last open: kept for its bench alone, and used where nothing is opened."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchd.daemon.attempt import check
from benchd.daemon.job_control import Submission
from benchd.errors import PlanUnfit, SweepUnfit
from benchd.patch.screen import ScreenIdentity
from benchd.plan.plan import Plan
from benchd.plan.plan_store import load_plan
from benchd.profile.bench import Bench
from benchd.profile.profile_store import load_bench
from benchd.run.bench.known_screen import keep_known_screen, known_screen, refuse_unfit_as_known
from benchd.run.job import BenchJob, Document
from tests.plan.helpers import plan_from

SOURCE = Document("p", "p.yaml", "plan: p\nsignal: {transfer: pq}\nblocks: [peak: {}]\n")
TEXT = "bench: b\nscreen: {command: [x]%s}\ninstruments: {meter: {command: [x]}}\n"
SDR = ScreenIdentity("A-1", 1920, 1080, 0, 0, 8, "none", "pen", "no", True)
HDR = ScreenIdentity("A-1", 1920, 1080, 0, 0, 10, "none", "pen", "no", True, signal="pq")


@pytest.fixture(autouse=True)
def state(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    return tmp_path


def bench(more: str = "") -> Bench:
    return load_bench(TEXT % more, "b.yaml")


def job(more: str = "") -> BenchJob:
    return BenchJob({"bench": Document("b", "b.yaml", TEXT % more)}, bench(more))


def hdr_plan() -> Plan:
    return load_plan(SOURCE.text, SOURCE.file, lambda name: "")


def test_it_is_kept_whole_and_for_this_screen_of_the_profile_alone() -> None:
    assert known_screen(bench()) is None
    keep_known_screen(bench(), HDR)
    known = known_screen(bench())
    assert known is not None
    assert (known.name, known.signal, known.bits, known.refresh_hz) == (HDR.name, "pq", HDR.bits, HDR.refresh_hz)
    assert known_screen(bench(", range: narrow")) is None
    keep_known_screen(bench(), SDR)
    assert (known := known_screen(bench())) is not None
    assert known.signal == "sdr"


@pytest.mark.parametrize("damage", ["", "{", "[]", '{"profile": 1}', '{"screen": {}}'])
def test_what_can_not_be_read_is_not_known(state: Path, damage: str) -> None:
    keep_known_screen(bench(), HDR)
    (path,) = state.rglob("*.json")
    path.write_text(damage)
    assert known_screen(bench()) is None


def test_a_folder_that_can_not_be_written_costs_the_knowledge_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", "/dev/null/nothing")
    keep_known_screen(bench(), HDR)
    assert known_screen(bench()) is None


def test_a_refusal_names_the_benches_here_that_can(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    shelf = tmp_path / "profiles" / "benches"
    shelf.mkdir(parents=True)
    (shelf / "lab-2.yaml").write_text(TEXT % ", signal: pq, bits: 10" + "simulated: false\n")
    (shelf / "broken.yaml").write_text("bench: [")
    keep_known_screen(bench(), SDR)
    with pytest.raises(PlanUnfit) as refused:
        refuse_unfit_as_known(hdr_plan(), job(), SOURCE)
    assert str(refused.value).startswith("b can't run p: ")
    can = "lab-2; SIMULATED: sim-hdr-emissive, sim-hdr-lcd, sim-hdr-zone-lcd"
    assert str(refused.value).endswith(f"Benches here that can: {can}")


def test_what_is_not_known_is_said_and_what_is_known_decides() -> None:
    (unknown,) = refuse_unfit_as_known(hdr_plan(), job(), SOURCE)
    assert unknown.startswith("the signal and bit depth of bench b's screen is not known before it is opened")
    keep_known_screen(bench(), HDR)
    assert refuse_unfit_as_known(hdr_plan(), job(), SOURCE) == ()
    keep_known_screen(bench(), SDR)
    with pytest.raises(PlanUnfit, match=r"\(last opened 20.* [A-Z].*; benchd doctor --bench b opens it\) emits SDR"):
        refuse_unfit_as_known(hdr_plan(), job(), SOURCE)
    # The profile states it: the report was of a screen that was set otherwise.
    assert refuse_unfit_as_known(hdr_plan(), job(", signal: pq, bits: 10"), SOURCE) == ()


def test_a_submission_is_refused_alike() -> None:
    submission = Submission("p.yaml", "plan: p\nsignal: {transfer: pq}\nblocks: [peak: {}]\n", attended=True)
    assert "not known before it is opened" in check(submission, job()).remark
    keep_known_screen(bench(), SDR)
    with pytest.raises(PlanUnfit, match="emits SDR"):
        check(submission, job())


def test_what_a_bench_can_not_set_of_a_sweep_is_reported_with_its_place_in_the_plan() -> None:
    controls = (
        "controls:\n  brightness: {ddc: 16, low: 0, high: 100}\n  preset: {prompt: 'Set {value}', values: {warm: 1}}\n"
        "  lamp: {prompt: 'Set {value}'}\nddc: {bus: auto}\n"
    )
    named = BenchJob({}, load_bench(TEXT % "" + controls, "b.yaml"))

    def refused(*sweep: str) -> list[str]:
        text = "".join(("plan: p\nsweep:\n", *(f"  - {one}\n" for one in sweep), "blocks: [luminance: {}]\n"))
        plan = plan_from(text)
        try:
            refuse_unfit_as_known(plan, named, Document("p", "p.yaml", text))
        except SweepUnfit as error:
            return str(error).splitlines()
        return []

    assert refused("{control: preset, values: [warm]}", "{control: lamp, values: [dim, half bright, 3]}") == []
    assert refused(
        "{control: birghtness, values: [20]}",
        "{control: preset, values: [warm, cold]}",
        "{control: brightness, values: {from: 0, to: 300, step: 10}}",
    ) == [
        "p.yaml:3:15: the plan sweeps 'birghtness', and the bench has no such control; did you mean brightness?",
        "p.yaml:4:38: the plan sets preset to 'cold', and on this bench it takes one of warm",
        "p.yaml:5:35: the plan sets brightness to 110, and on this bench it takes a whole number, 0 to 100",
    ]
    [quoted] = refused("{control: brightness, values: ['50']}")
    assert quoted.endswith("it takes a whole number, 0 to 100; remove the quotation marks")
    elsewhere = "{control: contrast, values: [50]}"  # other benches here have it
    assert refused(elsewhere)[0].startswith("p.yaml:1:1: b can't run p: benches here that can: SIMULATED: sim-")
