"""The service as its user has it: processes, signals, kills, and a socket to talk to."""

from __future__ import annotations

import json
import os
import random
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from argparse import Namespace
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from benchd.command.service import queue
from benchd.exits import Exit
from benchd.run.log.journal import LogFile
from benchd.run.log.records import fold
from tests.alike import to_compare
from tests.command.conftest import environment
from tests.command.gate import Gate
from tests.command.test_main_job import values
from tests.polling import comes_true
from tests.ready import Ready

SEED = 20261125

PLAN = """\
plan: small
target: srgb
warm_up: none
settle_s: 1
readings: 2
blocks:
  - luminance: {}
  - grayscale: {steps: 9, white: target}
  - uniformity: {grid: 3x3, levels_percent: [100]}
"""
RECORDS = 110
"""About as many are in its log."""

CAUTION = "Caution: patches change between dark and bright"


class Station:
    """A folder in which a service is started and talked to."""

    def __init__(self, folder: Path, ready: Ready) -> None:
        self.folder, self._ready = folder, ready
        self.home = folder / "service"
        self.library = folder / "data" / "benchd" / "logs"
        self.plan = folder / "small.yaml"
        self.plan.write_text(PLAN)
        self._processes: list[subprocess.Popen[bytes]] = []
        self.environment = {**environment(folder), "XDG_STATE_HOME": str(folder / "state")}
        self.environment.pop("NOTIFY_SOCKET", None)

    def serve(self, *words: str, wait: bool = True, **more: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "benchd", "serve", "--bench", "sim-office", "--folder", str(self.home), *words]
        errors = self.folder / f"service-{len(self._processes)}.txt"
        with errors.open("wb") as out:
            process = subprocess.Popen(
                command,
                cwd=self.folder,
                env={**self.environment, **more},
                stdin=subprocess.DEVNULL,
                stdout=out,
                stderr=out,
            )
        self._processes.append(process)
        limit = time.monotonic() + 60
        while wait and b"service ready" not in errors.read_bytes():
            assert process.poll() is None, errors.read_text()
            assert time.monotonic() < limit
            time.sleep(0.01)
        return process

    def said(self, number: int = -1) -> str:
        """What a service wrote to stderr."""
        return sorted(self.folder.glob("service-*.txt"))[number].read_text()

    def benchd(self, *words: object, code: int = 0) -> subprocess.CompletedProcess[str]:
        done = self._ready.run([str(word) for word in words], self.folder, self.environment)
        assert "Traceback" not in done.stderr
        assert done.returncode == code, done.stdout + done.stderr
        return done

    def jobs(self) -> dict[str, dict[str, Any]]:
        return {job["id"]: job for job in json.loads(self.benchd("jobs", "--json").stdout)}

    def results(self, log: str) -> dict[str, Any]:
        return values(json.loads(self.benchd("results", log, "--json").stdout)["blocks"])

    def records(self) -> int:
        """Complete lines in all logs."""
        return sum(log.read_bytes().count(b"\n") for log in self.library.glob("*/*.log"))

    def done(self) -> bool:
        """Both jobs of the story of kills have ended."""
        return sum(b'"kind":"ended"' in log.read_bytes() for log in self.library.glob("*/*.log")) == 2

    def end(self) -> None:
        for process in self._processes:
            if process.poll() is None:
                process.kill()
            process.wait()


@pytest.fixture
def station(tmp_path: Path, ready: Ready) -> Iterator[Station]:
    found = Station(tmp_path, ready)
    yield found
    found.end()


def test_an_evening_at_the_service(station: Station) -> None:
    told = station.folder / "told.txt"
    later = datetime.now(UTC).astimezone() + timedelta(hours=12)
    process = station.serve("--on-event", f"sh -c 'cat >> {told}; echo >> {told}'")
    assert station.benchd("submit", "quick", "--not-before", f"{later:%H:%M}").stdout == "j1\n"
    # Watched before there is anything to see: a virtual job is over in a moment.
    watch = subprocess.Popen(
        [sys.executable, "-m", "benchd", "watch"],
        cwd=station.folder,
        env=station.environment,
        stdin=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert watch.stderr is not None
    said = watch.stderr.readline()
    assert said.startswith("No job runs"), said
    submitted = station.benchd("submit", station.plan, "--sample", "plover-27/1", "--note", "cool")
    assert submitted.stdout == "j2\n"
    assert "Queued as job j2 on a SIMULATED bench" in submitted.stderr
    assert CAUTION in submitted.stderr
    _, said = watch.communicate(timeout=120)
    assert watch.returncode == 0
    assert re.search(
        r"^SIMULATED  Job j2: plan .*, sample plover-27/1\. Log: .*\nCaution: patches change", said, re.MULTILINE
    )
    assert "SIMULATED  Job j2: complete" in said
    assert "benchd results" in said
    assert station.benchd("submit", "quick", "--priority", 3).stdout == "j3\n"
    wait_for(station, j3="complete")
    listed = station.benchd("jobs").stdout.splitlines()
    assert [line.split()[:2] for line in listed[:3]] == [["j1", "queued"], ["j3", "complete"], ["j2", "complete"]]
    assert all("SIMULATED" in line for line in listed[:3])
    assert f"not before {later.astimezone():%Y-%m-%d %H:%M} " in listed[0], "local, with the zone behind it"
    assert listed[3].startswith("Caution (j1): patches change"), "of what is to run still"
    assert comes_true(lambda: told.read_text().count("\n") >= 2), told.read_text()  # it is told beside the queue
    events = [json.loads(line) for line in told.read_text().splitlines()]
    assert [(event["event"], event["simulated"]) for event in events] == [("complete", True)] * 2
    status = station.benchd("status").stdout
    assert status.startswith("SIMULATED  bench sim-office: idle\n")
    assert json.loads(station.benchd("status", "--json").stdout)["service"] is True
    whole = station.folder / "whole.log"
    station.benchd("run", station.plan, "--bench", "sim-office", "--log", whole)
    jobs = station.jobs()
    assert station.results(jobs["j2"]["log"]) == station.results(str(whole)), "one code path, one result"
    assert "cancelled" in station.benchd("cancel", "j1").stderr
    assert "has ended" in station.benchd("stop").stderr
    assert process.wait(60) == 0
    lines = [json.loads(line) for line in station.said().splitlines()]
    assert [line["event"] for line in lines if line["event"].startswith("service")] == [
        "service ready",
        "service ended",
    ]
    assert not list((station.folder / "runtime").rglob("*.sock"))


def test_sigterm_pauses_after_the_reading_and_the_next_start_goes_on(station: Station) -> None:
    gate = Gate(station.folder)
    process = station.serve()
    station.benchd("submit", station.plan)
    gate.wait()
    process.send_signal(signal.SIGTERM)
    gate.open()
    assert process.wait(60) == 0
    [log] = station.library.glob("*/*.log")
    records = list(LogFile(log).records())
    assert (records[-1].kind, records[-1].body["why"]) == ("paused", "SIGTERM")
    down = json.loads(station.benchd("status", "--folder", station.home, "--json").stdout)
    assert down["service"] is False
    [job] = down["folders"][0]["jobs"]
    assert (job["state"], job["steps_done"]) == ("queued", len(fold(records).done))
    assert down["folders"][0]["simulated"] is True
    text = station.benchd("status", "--folder", station.home).stdout
    assert "no service answers" in text
    assert "was paused (SIGTERM); goes on with the next start" in text
    assert re.search(r"^j1  queued .*  SIMULATED  ", text, re.MULTILINE)
    assert "Caution (j1): " in text
    station.serve()
    station.benchd("watch")
    state = fold(LogFile(log).records())
    assert state.ended
    assert state.sessions == 2


def test_the_link_of_the_page_is_for_its_owner_alone(station: Station) -> None:
    process = station.serve("--http", "0")
    path = station.home / "page-link"
    assert path.stat().st_mode & 0o777 == 0o600
    link = path.read_text().strip()
    address, _, token = link.partition("#")
    assert token
    ready = json.loads(station.said().splitlines()[-1])
    assert ready["page"] == address
    assert token not in station.said()
    process.send_signal(signal.SIGTERM)
    assert process.wait(60) == 0
    assert not path.exists()


def test_kills_at_drawn_instants_and_restarts_give_the_same_results(station: Station) -> None:
    gate = Gate(station.folder)
    gate.open()
    station.serve()
    station.benchd("submit", station.plan)
    station.benchd("submit", "quick")
    station.benchd("watch")
    wait_for(station, j1="complete", j2="complete")
    wanted = {name: to_compare(Path(job["log"])) for name, job in station.jobs().items()}
    station.benchd("stop")
    generator = random.Random(SEED)
    station.home = station.folder / "killed"
    gate.close()
    for kill in range(3):
        process = station.serve()
        if kill == 0:
            station.benchd("submit", station.plan)
            station.benchd("submit", "quick")
            gate.wait()  # the first hits a run that is under way, wherever the others hit
        else:
            wait_for_records(station, station.records() + generator.randrange(1, RECORDS // 3))
        process.kill()
        process.wait()
        if kill == 0:
            gate.open()
    station.serve()
    wait_for(station, j1="complete", j2="complete")
    jobs = station.jobs()
    assert len(jobs) == 2
    for name, job in jobs.items():
        assert to_compare(Path(job["log"])) == wanted[name], f"seed {SEED}"
        assert fold(LogFile(Path(job["log"])).records()).ended
    assert fold(LogFile(Path(jobs["j1"]["log"])).records()).sessions >= 2


def test_a_running_job_is_paused_resumed_and_cancelled_from_the_command_line(station: Station) -> None:
    gate = Gate(station.folder)
    station.serve()
    station.benchd("submit", station.plan)
    gate.wait()
    assert "benchd resume j1" in station.benchd("pause", "j1").stderr
    gate.open()
    wait_for(station, j1="paused")
    [paused] = station.jobs().values()
    assert 0 < paused["share_done"] < 1
    assert (
        f"{paused['steps_done']}/{paused['steps']}, {int(100 * paused['share_done'])} %"
        in station.benchd("jobs").stdout
    )
    gate.close()
    assert "held" not in station.benchd("status").stdout, "nothing waits behind it"
    resumed = station.benchd("resume", "j1").stderr
    assert "when it is its turn" in resumed
    assert CAUTION in resumed
    wait_for(station, j1="running")
    assert "no step of the operator" in station.benchd("next", code=1).stderr
    gate.wait()
    assert "Job j1 is cancelled. What it has read stays in its log: /" in station.benchd("cancel", "j1").stderr
    gate.open()
    wait_for(station, j1="cancelled")
    assert station.said().count("job cancelled") <= 1
    assert "cancelled already" in station.benchd("resume", "j1", code=1).stderr
    assert "no job 'j7'" in station.benchd("pause", "j7", code=1).stderr
    assert "is no job" in station.benchd("pause", "7", code=2).stderr


def test_a_point_of_a_sweep_is_skipped_as_at_a_terminal(station: Station) -> None:
    text = (Path(__file__).parents[2] / "profiles" / "benches" / "sim-office.yaml").read_text()
    prompt = "  brightness: {prompt: 'Set brightness to {value}', low: 0, high: 100}"
    (station.folder / "own.yaml").write_text(re.sub(r"(?m)^  brightness: .*$", prompt, text))
    sweep = "[{control: brightness, values: [100, 50, 0]}]"
    (station.folder / "sweep.yaml").write_text(
        f"plan: sweep\nwarm_up: none\nsweep: {sweep}\nblocks: [luminance: {{}}]\n"
    )
    station.serve("--bench", "own.yaml")
    assert "no setting is awaited" in station.benchd("next", "--skip", code=1).stderr
    station.benchd("submit", "sweep.yaml", "--attended", "--sample", "plover-27/1")
    goes_on = "on bench sim-office, j1, sample plover-27/1; the SIMULATED run goes on."
    for value, words, said in (
        (100, ("next",), f"Confirmed {goes_on}"),
        (50, ("next", "--skip"), f"This point is skipped {goes_on}"),
        (0, ("next", "--skip"), f"This point is skipped {goes_on}"),
    ):
        wait_until(station, lambda found, value=value: found["operator"] == f"Set brightness to {value}")
        assert "then `benchd next` (to skip this point: `benchd next --skip`)" in station.benchd("status").stdout
        assert said in station.benchd(*words).stderr
    wait_for(station, j1="complete")
    job = station.jobs()["j1"]
    assert (job["steps_done"], job["why"]) == (2, "4 steps skipped by the operator")
    skipped = [one for one in LogFile(Path(job["log"])).records() if one.kind == "skipped"]
    assert [one.body["point"] for one in skipped] == ["brightness=50", "brightness=0"]
    assert sorted(skipped[0].body["steps"]) == [f"brightness=50/luminance/{name}" for name in ("black", "white")]


def test_a_plan_travels_with_its_files_and_its_faults_come_back(station: Station) -> None:
    station.serve()
    plans = station.folder / "plans"
    (plans / "lists").mkdir(parents=True)
    shelf = station.folder / "profiles" / "targets"
    shelf.mkdir(parents=True)
    target = (Path(__file__).parents[2] / "profiles" / "targets" / "srgb.yaml").read_text()
    (shelf / "mine.yaml").write_text(target.replace("target: srgb", "target: mine"))
    (plans / "lists" / "p.csv").write_text("name,red,green,blue\none,10,20,30\n")
    own = plans / "own.yaml"
    own.write_text("plan: own\ntarget: mine\nwarm_up: none\nblocks:\n  - patches: {file: lists/p.csv}\n")
    station.benchd("submit", own)
    own.write_text("plan: own\ntarget: nothing\nsetle_s: 1\nblocks:\n  - luminance: {}\n")
    refused = station.benchd("submit", own, code=2).stderr
    assert "own.yaml:3:1: unknown key 'setle_s'" in refused
    assert "nothing was queued" in refused
    own.write_text("plan: own\ntarget: srgb\nblocks:\n  - patches: {file: lists/gone.csv}\n")
    assert "lists/gone.csv" in station.benchd("submit", own, code=2).stderr
    assert "is not a moment" in station.benchd("submit", "quick", "--not-before", "soon", code=2).stderr
    assert "no plan 'quack'" in station.benchd("submit", "quack", code=2).stderr
    wait_for(station, j1="complete")
    assert len(station.jobs()) == 1


def test_no_service_is_one_sentence(station: Station) -> None:
    for words in (["jobs"], ["watch"], ["submit", "quick"], ["pause", "j1"], ["next"], ["stop"], ["resume", "j1"]):
        done = station.benchd(*words, code=4)
        assert done.stderr.count("\n") == 1
        assert "no service answers: there is no socket in " in done.stderr
        assert "start one with: benchd serve --bench sim-office, or with a bench of your own" in done.stderr
    named = station.benchd("jobs", "--bench", "lab-2", code=4).stderr
    assert "/lab-2.sock; start one with: benchd serve --bench lab-2\n" in named
    assert "No folder of a service" in station.benchd("status", code=1).stdout
    unknown = station.benchd("status", "--bench", "lab-2.yaml", code=1).stdout
    assert "no service answers at " in unknown
    assert "No folder of a service of bench lab-2 is in " in unknown
    assert "name that: benchd status --folder DIR" in unknown
    elsewhere = station.benchd("status", "--folder", station.folder, code=2).stderr
    assert f"no service was in {station.folder} (it has no queue); name with --folder the folder of a service" in (
        " ".join(elsewhere.split())
    )


def test_a_second_service_of_a_bench_is_refused(station: Station) -> None:
    first = station.serve()
    second = station.serve(wait=False)
    assert second.wait(60) == 4
    assert f"another service has bench sim-office already (process {first.pid})" in station.said()
    assert first.poll() is None
    assert station.benchd("jobs").stdout == "no jobs\n"


def test_what_serve_can_not_use_is_refused_in_one_sentence(station: Station) -> None:
    for words, said in (
        (["--webhook", "http://example.org/"], "not one of this machine"),
        (["--on-event", "sh 'half"], "quote it"),
        (["--folder", "/proc/nowhere"], "--folder"),
    ):
        process = station.serve(*words, wait=False)
        assert process.wait(60) in (2, 4)
        assert said in station.said()
        assert "Traceback" not in station.said()


def test_the_service_manager_is_told(station: Station) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        address = str(station.folder / "notify")
        manager.bind(address)
        manager.settimeout(60)
        heard: list[bytes] = []

        def listen() -> None:  # at once: what is not read is lost once a few messages wait
            with suppress(OSError):  # closed below, where the service did not start
                while b"STOPPING=1" not in heard:
                    heard.append(manager.recv(4096))

        manager_at_work = threading.Thread(target=listen)
        manager_at_work.start()
        process = station.serve(NOTIFY_SOCKET=address, WATCHDOG_USEC="8000000")
        station.benchd("submit", "quick")
        station.benchd("watch")
        process.send_signal(signal.SIGTERM)
        assert process.wait(60) == 0
        manager_at_work.join()
    assert heard[0] == b"READY=1"
    assert b"WATCHDOG=1" in heard
    assert any(one.startswith(b"STATUS=") for one in heard)
    assert heard[-1] == b"STOPPING=1"


@pytest.mark.parametrize("words", [["jobs"], ["status"], ["pause", "j1"], ["next"], ["submit", "quick"], ["watch"]])
def test_a_small_command_imports_nothing_heavy(station: Station, words: list[str]) -> None:
    program = (
        "import sys, benchd.cli\n"
        f"benchd.cli.main({words!r})\n"
        "heavy = {'numpy', 'pydantic', 'yaml', 'serial', 'pyglet', 'colour', 'monitorcontrol'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=station.folder,
        env={**environment(station.folder), "XDG_STATE_HOME": str(station.folder)},
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
    )
    assert done.returncode == 0, done.stderr


def wait_for_records(station: Station, count: int) -> None:
    """Until there are so many, or no more will come."""
    there = comes_true(lambda: station.records() >= count or station.done(), 120, 0.002)
    assert there, f"{station.records()} of {count} records; {station.said()}"


def wait_for(station: Station, **wanted: str) -> None:
    def states() -> dict[str, str]:
        return {name: job["state"] for name, job in station.jobs().items()}

    assert comes_true(lambda: wanted.items() <= states().items(), 120, 0.1), f"{states()}; {station.said()}"


def wait_until(station: Station, what: Callable[[Any], bool]) -> None:
    """Until that is true of the snapshot that `benchd status` gives."""
    limit = time.monotonic() + 120
    while not what(found := json.loads(station.benchd("status", "--json").stdout)):
        assert time.monotonic() < limit, f"{found}; {station.said()}"
        time.sleep(0.1)


def test_the_runtime_folder_is_private(station: Station) -> None:
    station.serve()
    folder = station.folder / "runtime" / f"benchd-{os.getuid()}"
    assert folder.stat().st_mode & 0o777 == 0o700
    assert (folder / "sim-office.sock").stat().st_mode & 0o777 == 0o600
    assert station.home.stat().st_mode & 0o777 == 0o700


def test_a_cancelled_job_that_never_ran_is_said_to_have_no_log(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    service = SimpleNamespace(act=lambda job, action: SimpleNamespace(id=job, log=""))
    monkeypatch.setattr(queue, "client", lambda arguments: service)
    assert queue.main_cancel(Namespace(job="j4")) is Exit.COMPLETE
    assert capsys.readouterr().err == "Job j4 is cancelled. It had not begun, so it has no log.\n"
