"""Signals and kills of the real command, with the simulated bench's processes and the real serial driver."""

from __future__ import annotations

import json
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from benchd.run.log.journal import LogFile
from benchd.run.log.records import fold
from tests.alike import to_compare
from tests.command.conftest import Benchd, environment
from tests.command.gate import Gate
from tests.polling import comes_true

SEED = 61


def begin(folder: Path, log: str, plan: str = "sdr-standard") -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "benchd", "run", plan, "--bench", "sim-office", "--log", log]
    with (folder / "stderr.txt").open("wb") as errors:
        return subprocess.Popen(
            command, cwd=folder, env=environment(folder), stdin=subprocess.DEVNULL, stdout=errors, stderr=errors
        )


def wait_for_records(process: subprocess.Popen[bytes], path: Path, count: int) -> None:
    limit, found, seen = time.monotonic() + 120, 0, 0
    while process.poll() is None:
        if path.exists():
            with path.open("rb") as log:
                log.seek(seen)  # a log only grows
                more = log.read()
            seen, found = seen + len(more), found + more.count(b"\n")
            if found >= count:
                return
        assert time.monotonic() < limit, f"fewer than {count} records"
        time.sleep(0.002)


def children_gone(folder: Path) -> bool:
    """No companion, window or mover of this test's run is left."""

    def gone() -> bool:
        listing = subprocess.run(["ps", "-eo", "args"], capture_output=True, text=True, check=True).stdout
        return not any("-m sim." in line and str(folder) in line for line in listing.splitlines())

    return comes_true(gone, every_s=0.1)


@pytest.mark.parametrize(("number", "name"), [(signal.SIGINT, "Ctrl-C"), (signal.SIGTERM, "SIGTERM")])
def test_a_signal_pauses_and_the_resume_completes(
    benchd: Benchd, tmp_path: Path, number: signal.Signals, name: str
) -> None:
    gate = Gate(tmp_path)
    process = begin(tmp_path, "a.log")
    gate.wait()
    process.send_signal(number)
    gate.open()
    assert process.wait(timeout=60) == 3
    told = (tmp_path / "stderr.txt").read_text()
    assert f"Paused by {name}" in told
    assert "benchd resume a.log" in told
    records = list(LogFile(tmp_path / "a.log").records())
    assert records[-1].kind == "paused"
    before = fold(records)
    verified = benchd("log", "verify", "a.log").stdout
    assert "paused" in verified
    assert verified.endswith("\nGo on with: benchd resume a.log\n")
    partial = json.loads(benchd("results", "a.log", "--json").stdout)
    assert partial["complete"] is False
    assert partial["absent"], "what was not measured is absent, with a reason"
    benchd("resume", "a.log")
    after = fold(LogFile(tmp_path / "a.log").records())
    assert after.ended
    assert after.sessions == 2
    assert set(before.done) <= set(after.done)


def test_sigkill_at_drawn_instants_then_resume_gives_the_same_results(benchd: Benchd, tmp_path: Path) -> None:
    benchd("run", "sdr-standard", "--bench", "sim-office", "--log", "whole.log")
    wanted = to_compare(tmp_path / "whole.log")
    generator = random.Random(SEED)
    for trial in range(4):
        log = f"{trial}.log"
        after = generator.randrange(1, 620)
        process = begin(tmp_path, log)
        wait_for_records(process, tmp_path / log, after)
        process.kill()
        process.wait()
        assert sum(1 for _ in LogFile(tmp_path / log).records()) >= after
        benchd("resume", log)
        assert to_compare(tmp_path / log) == wanted, f"seed {SEED}, trial {trial}, killed after record {after}"
        assert "identical" in benchd("replay", log).stdout, f"seed {SEED}, trial {trial}, killed after record {after}"


def test_a_second_writer_is_refused_while_the_first_runs(benchd: Benchd, tmp_path: Path) -> None:
    gate = Gate(tmp_path)
    process = begin(tmp_path, "a.log")
    gate.wait()
    done = benchd("resume", "a.log", code=4)
    assert "another process writes" in done.stderr
    assert "interrupted" in benchd("log", "verify", "a.log").stdout
    process.send_signal(signal.SIGINT)
    gate.open()
    assert process.wait(timeout=60) == 3


def test_nothing_is_left_running_after_a_kill(tmp_path: Path) -> None:
    process = begin(tmp_path, "a.log", plan="night")
    wait_for_records(process, tmp_path / "a.log", 40)
    process.kill()
    process.wait()
    assert children_gone(tmp_path)
