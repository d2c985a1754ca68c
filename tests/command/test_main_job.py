"""The main job from the command line, on the simulated benches."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest

from benchd.plan.estimate import estimate
from benchd.run.job import bench_job, plan_job
from benchd.run.log.journal import LogFile
from tests.command.conftest import Benchd


def test_demo_goes_from_plan_to_results_and_says_simulated_everywhere(benchd: Benchd, tmp_path: Path) -> None:
    done = benchd("demo", "--log", "demo.log")
    lines = done.stdout.splitlines()
    assert lines[0].startswith("SIMULATED")
    assert lines[-1].startswith("SIMULATED")
    for word in ("white", "contrast", "uniformity", "grayscale dE00", "checkerboard", "Duv", "gamma", "--details"):
        assert word in done.stdout
    assert "SIMULATED" in done.stderr
    proposed = [line.partition(": ")[2] for line in done.stderr.splitlines()[-3:]]
    assert proposed == [
        "benchd results demo.log --details",
        "benchd report demo.log -o page.html",
        "benchd new plan mine",
    ]
    for command in proposed:
        ran = benchd(*command.split()[1:])
        assert ran.returncode == 0, (command, ran.stderr)
    started = next(LogFile(tmp_path / "demo.log").records()).body
    assert started["simulated"] is True
    assert started["virtual_time"] is True

    data = json.loads(benchd("results", "demo.log", "--json").stdout)
    assert data["schema"] == "benchd.results/2"
    assert data["notice"] == "SIMULATED"
    assert data["complete"] is True
    rows = list(csv.DictReader(io.StringIO(benchd("results", "demo.log", "--format", "csv").stdout)))
    assert len(rows) > 500
    assert {row["simulated"] for row in rows} == {"SIMULATED"}

    assert "sound, SIMULATED" in benchd("log", "verify", "demo.log").stdout
    assert "identical" in benchd("replay", "demo.log").stdout
    other = benchd("results", "demo.log", "--target", "bt1886").stdout
    assert "greys against the curve after ITU-R BT.1886" in other


def test_the_readings_of_the_warm_up_are_told_apart_wherever_readings_are_counted(
    benchd: Benchd, tmp_path: Path
) -> None:
    warm = "{until: stable, at_least_min: 1, at_most_min: 8}"
    (tmp_path / "own.yaml").write_text(f"plan: own\nwarm_up: {warm}\nblocks: [luminance: {{}}]\n")
    planned = json.loads(benchd("plan", "own.yaml", "--bench", "sim-office", "--json").stdout)["readings"]
    ran = benchd("run", "own.yaml", "--bench", "sim-office", "--log", "a.log").stderr
    found = re.search(r"Complete: 3 steps, (\d+) readings \((\d+) of the warm-up\), faults 0\.", ran)
    assert found is not None, ran
    assert int(found[1]) - int(found[2]) == planned
    said = f"{found[1]} readings ({found[2]} of the warm-up)"
    for words in (("log", "verify", "a.log"), ("results", "a.log"), ("results", "a.log", "--details")):
        assert said in benchd(*words).stdout


@pytest.mark.parametrize("bench", ["sim-office", "sim-wide", "sim-emissive"])
def test_check_on_every_simulated_bench(benchd: Benchd, tmp_path: Path, bench: str) -> None:
    done = benchd("check", "--bench", bench, "--log", "check.log")
    assert done.stdout.startswith("SIMULATED")
    for word in ("white", "black", "contrast", "Duv", "16 readings in 18 s", "Log: check.log"):
        assert word in done.stdout
    assert len(done.stdout.splitlines()) <= 6
    times_ns = [record.mono_ns for record in LogFile(tmp_path / "check.log").records()]
    assert times_ns[-1] - times_ns[0] < 60e9, "under 60 s of bench time"


@pytest.mark.parametrize("bench", ["sim-office", "sim-wide", "sim-emissive"])
@pytest.mark.parametrize("plan", ["quick", "sdr-standard", "uniformity-grid"])
def test_the_estimate_is_near_what_then_happens(benchd: Benchd, tmp_path: Path, bench: str, plan: str) -> None:
    benchd("run", plan, "--bench", bench, "--log", "a.log")
    records = list(LogFile(tmp_path / "a.log").records())
    warm = next((record for record in records if record.kind == "done" and record.step == "warm-up"), records[0])
    took_s = (records[-1].mono_ns - warm.mono_ns) / 1e9
    job, parts = plan_job(plan), bench_job(bench)
    said = estimate(job.steps, parts.bench.timing, job.plan, manual_moves=False)
    assert said.minimum_s - said.warm_up_minimum_s == pytest.approx(took_s, rel=0.15)


def test_an_emissive_black_gives_a_bound_and_never_a_plain_ratio(benchd: Benchd) -> None:
    done = benchd("check", "--bench", "sim-emissive", "--json")
    ratio = json.loads(done.stdout)["blocks"]["contrast"]["sequential"]["ratio"]
    assert ratio["bound"] == "above"
    assert ratio["value"] > 100_000


def test_two_runs_with_one_seed_are_the_same(benchd: Benchd) -> None:
    texts = []
    for name in ("a.log", "b.log"):
        words = ("check", "--bench", "sim-office", "--log", name, "--json")
        data = json.loads(benchd(*words, anew=True).stdout)  # each with hashes of its own
        texts.append(data["blocks"])
    assert texts[0] == texts[1]


def test_plan_lists_steps_and_opens_nothing(benchd: Benchd, tmp_path: Path) -> None:
    done = benchd("plan", "sdr-standard", "--bench", "my-bench", "--steps")
    assert "108 steps" in done.stdout
    assert "uniformity/r5c1/grey50" in done.stdout
    assert [path.name for path in tmp_path.iterdir()] == ["runtime"]


def test_every_fault_of_a_plan_at_once(benchd: Benchd, tmp_path: Path) -> None:
    (tmp_path / "night.yaml").write_text(
        "plan: night\ntarget: srgb\nsetle_s: 1\nblocks:\n"
        "  - uniformity: {grid: 5x0}\n  - grayscale: {codes: [0, 300]}\n"
    )
    done = benchd("plan", "night.yaml", code=2)
    assert done.stdout == ""
    assert "night.yaml:3:1: unknown key 'setle_s'; did you mean 'settle_s'?" in done.stderr
    assert "night.yaml:5:" in done.stderr
    assert "night.yaml:6:" in done.stderr
    assert "3 errors; nothing was started." in done.stderr
    assert benchd("run", "night.yaml", "--bench", "sim-office", code=2).stdout == ""
    assert not (tmp_path / "data" / "benchd" / "logs").exists()


@pytest.mark.parametrize("command", ["plan", "run"])
def test_a_plan_deeper_than_the_frame_buffer_is_refused_before_anything_opens(
    benchd: Benchd, tmp_path: Path, command: str
) -> None:
    (tmp_path / "deep.yaml").write_text("plan: deep\nbits: 10\nblocks: [{grayscale: {steps: 5}}]\n")
    said = benchd(command, "deep.yaml", "--bench", "my-bench", code=2).stderr
    assert "plan deep has codes of 10 bits and bench my-bench requires a frame buffer of 8" in said
    benchd("plan", "deep.yaml")


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("plan", "sdr-standart"), 2, "did you mean sdr-standard"),
        (("run", "quick", "--bench", "sim-ofice"), 2, "did you mean sim-office"),
        (("results", "none.log"), 2, "none.log: there is no such file"),
        (("resume", "none.log"), 2, "there is no log none.log; name a log, or a job of the service"),
        (("replay", "none.log"), 2, "none.log: there is no such file"),
        (("log", "salvage", "none.log", "--log", "new.log"), 2, "none.log: there is no such file"),
        (("log", "verify", "none.log"), 1, "none.log: there is no such file"),
        (("run", "quick", "--bench", "my-bench"), 4, ""),
    ],
)
def test_what_is_wrong_is_one_sentence_and_an_exit_code(
    benchd: Benchd, words: tuple[str, ...], code: int, says: str
) -> None:
    done = benchd(*words, code=code)
    assert says in done.stderr
    assert done.stdout == ""


def test_a_complete_log_is_not_resumed(benchd: Benchd) -> None:
    benchd("check", "--bench", "sim-office", "--log", "a.log")
    done = benchd("resume", "a.log", code=2)
    assert "every step is done" in done.stderr


def test_an_existing_log_is_never_overwritten(benchd: Benchd, tmp_path: Path) -> None:
    (tmp_path / "a.log").write_text("precious")
    for words in (("check", "--bench", "sim-office", "--log"), ("log", "salvage", "a.log", "--log")):
        assert "exists already" in benchd(*words, "a.log", code=2).stderr
    assert (tmp_path / "a.log").read_text() == "precious"


def test_salvage_then_resume_gives_the_same_results(benchd: Benchd, tmp_path: Path) -> None:
    benchd("check", "--bench", "sim-office", "--log", "a.log")
    wanted = json.loads(benchd("results", "a.log", "--json").stdout)["blocks"]
    lines = (tmp_path / "a.log").read_bytes().splitlines(keepends=True)
    number = [index for index, line in enumerate(lines) if b'"kind":"reading"' in line][5]
    lines[number] = lines[number].replace(b'"reading"', b'"READING"')
    (tmp_path / "bad.log").write_bytes(b"".join(lines))
    assert f"bad.log:{number + 1}: the check sum is wrong" in benchd("results", "bad.log", code=2).stderr
    assert benchd("log", "verify", "bad.log", "a.log", code=1).stdout.startswith("a.log: sound")
    said = benchd("log", "salvage", "bad.log", "--log", "good.log").stdout
    assert "1 damaged" in said
    assert "1 step is still to be measured; go on with: benchd resume good.log" in said
    assert "(3 of 4 steps)" in benchd("results", "good.log").stdout, "the same count"
    benchd("resume", "good.log")
    again = json.loads(benchd("results", "good.log", "--json").stdout)["blocks"]
    assert values(again) == values(wanted)


def values(node: object) -> object:
    """Results without the places in the log."""
    if isinstance(node, dict):
        return {key: values(value) for key, value in node.items() if key != "records"}
    return [values(item) for item in node] if isinstance(node, list) else node


def test_help_teaches_every_command_and_exit_code(benchd: Benchd) -> None:
    text = benchd("--help").stdout
    for word in ("demo", "check", "plan", "run", "resume", "results", "replay", "doctor", "log", "exit codes", "3 "):
        assert word in text
    for command in ("demo", "check", "plan", "run", "resume", "results", "replay", "doctor", "log"):
        assert "usage: benchd" in benchd(command, "--help").stdout


def test_doctor_asks_every_part(benchd: Benchd) -> None:
    done = benchd("doctor", "--bench", "sim-wide")
    for part in ("companions", "clock", "screen", "meter", "stage"):
        assert f"{part:10} answers" in done.stdout
    assert "*IDN?" in done.stdout
    assert "SIMULATED" in done.stdout
    silent = benchd("doctor", "--bench", "my-bench", code=1)
    assert "meter      DOES NOT ANSWER" in silent.stdout
    assert "libraries" in benchd("doctor").stdout
