"""One case of the campaign: a real `benchd run` with faults put in, resumed until it is complete, and what came of it.

Two venues. ``virtual``: the simulated bench on virtual time, with the real serial driver on a pseudo-terminal, the real
log on a real file system; its results are held against the fault-free run exactly. ``window``: the real window on a
virtual X server, the simulated meter looking at its pixels in real time; results within noise.
"""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any, Literal

from benchd.run.log.journal import LogFile
from tests.alike import to_compare
from tests.campaign.disk import Disk
from tests.patch.x_server import XServer, two_outputs, virtual_server
from tests.polling import comes_true

ROOT = Path(__file__).resolve().parents[2]
Venue = Literal["virtual", "window"]

LONGEST_SESSION_S = 300.0
MAX_SESSIONS = 8
WITHIN = 0.015  # of luminance, on the window venue
WITHIN_DARK_CD_M2 = 0.02
READINGS: dict[Venue, int] = {"virtual": 36, "window": 12}
"""Readings of the plan; a fault falls somewhere among them."""

PLANS: dict[Venue, str] = {
    "virtual": """\
plan: campaign
warm_up: none
settle_s: 0.6
dark_settle_s: 1
readings: 2
dark_readings: 2
sweep: [{control: brightness, values: [60, 100]}]
blocks:
  - luminance: {}
  - grayscale: {steps: 4}
  - uniformity: {grid: 3x1}
""",
    "window": """\
plan: campaign
warm_up: none
settle_s: 0.8
dark_settle_s: 1
readings: 2
dark_readings: 2
dark_integration_s: 1
order: listed
sweep: [{control: brightness, values: [60, 100]}]
blocks:
  - patches: {list: [{name: g200, code: 200}, {name: dark, code: 0}, {name: red, code: [255, 0, 0]}]}
""",
}
BENCHES: dict[Venue, str] = {"virtual": "sim-office", "window": "sim-office-window"}

COMPANION = """
import pathlib, sys
from sim.bench import main
here = pathlib.Path(__file__).parent
faults = [line for line in (here / "faults.txt").read_text().splitlines() if line]
raise SystemExit(main([*sys.argv[1:], *(word for fault in faults for word in ("--fault", fault))]))
"""

STEPPED_CLOCK = """
import pathlib, time, datetime
offset = pathlib.Path(__file__).with_name("clock-offset.txt")
try:
    import benchd.clock as clock
except ImportError:
    clock = None
def shift():
    try:
        return float(offset.read_text())
    except (OSError, ValueError):
        return 0.0
if clock is not None:
    class Stepped(datetime.datetime):
        @classmethod
        def now(cls, tz=None):
            return super().now(tz) + datetime.timedelta(seconds=shift())
    clock.datetime = Stepped
    real = time.time
    time.time = lambda: real() + shift()
"""
"""Loaded by every interpreter of the case: the wall clock is stepped inside the processes, not the machine's."""


def nothing(case: Case) -> None:
    """No deed."""


@dataclass(frozen=True)
class Fault:
    """One thing that goes wrong.

    ``planned``  lines for the simulated bench (see sim.faults); {n} is the reading it falls on, {t} a scene second
    ``begin``    done to the running processes once {n} readings are in the log; ``end`` undoes it: after ``lasts_s``,
                 or, where that is None, once the run has paused
    ``ends``     how it must end alone: "goes on", "pauses", or "either" where the moment decides
    ``errors``   of which at least one must stand in the log; empty where nothing need be noticed
    """

    name: str
    text: str
    ends: Literal["goes on", "pauses", "either"]
    errors: tuple[str, ...] = ()
    planned: str = ""
    passing: bool = False  # a planned one that does not outlast its moment
    outlasts: str = (
        ""  # so planned for the next session until the log has named one of `errors`: the room is still there
    )
    begin: Callable[[Case], None] = nothing
    end: Callable[[Case], None] = nothing
    lasts_s: float | None = None
    venues: tuple[Venue, ...] = ("virtual", "window")
    at: tuple[int, int] | None = None  # the reading it falls on, by venue: virtual, window
    earliest: tuple[int, int] = (2, 2)  # in a pair, where the reading is drawn; by venue
    t_s: float = 8.0
    disk: str = "plain"
    server: str = "one"


@dataclass
class Ended:
    """What came of one case. ``problems`` is empty when it ended rightly."""

    faults: tuple[str, ...]
    venue: Venue
    seed: int
    sessions: int = 0
    errors: list[str] = field(default_factory=list)
    pauses: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    seconds: float = 0.0

    @property
    def went_on(self) -> bool:
        return self.sessions == 1


class _Active:
    """A fault within a case."""

    def __init__(self, fault: Fault, reading: int, t_s: float) -> None:
        self.fault, self.reading = fault, reading
        self.lines = fault.planned.format(n=reading, n1=reading + 1, t=t_s).splitlines()
        self.begun = not self.acts
        self.ended = not self.acts
        self.ends_at: float | None = None

    @property
    def acts(self) -> bool:
        return self.fault.begin is not nothing


class Case:
    """The processes, the folder and the faults of one case; a context manager."""

    def __init__(self, folder: Path, venue: Venue, faults: Sequence[Fault], seed: int) -> None:
        self.folder, self.venue, self.faults, self.seed = folder, venue, tuple(faults), seed
        self.random = Random(seed)
        self.stack = ExitStack()
        self.notes: dict[str, Any] = {}  # what `begin` leaves for `end`
        self.server: XServer | None = None
        self.process: subprocess.Popen[bytes] | None = None
        self.mark = f"benchd-campaign-{os.getpid()}-{folder.name}"
        index = 0 if venue == "virtual" else 1
        self._cures = 0
        self._counted = (-1, 0)  # bytes of the log, readings in them
        self._active = []
        for fault in faults:
            drawn = self.random.randint(fault.earliest[index], READINGS[venue] - 3)
            reading = fault.at[index] if fault.at else (12, 5)[index]
            self._active.append(_Active(fault, reading if len(faults) == 1 else drawn, fault.t_s))

    def __enter__(self) -> Case:
        folder = self.folder
        folder.mkdir(parents=True)
        for name in ("tmp", "runtime", "site"):
            (folder / name).mkdir()
        kinds = {fault.disk for fault in self.faults} - {"plain"}
        self.disk = self.stack.enter_context(Disk(folder / "disk", kinds.pop() if kinds else "plain"))
        self.log = folder / "disk" / "logs" / "a.log"
        (folder / "plan.yaml").write_text(PLANS[self.venue])
        (folder / "companion.py").write_text(COMPANION)
        (folder / "site" / "sitecustomize.py").write_text(STEPPED_CLOCK)
        _write_bench(folder, self.venue, two=self._outputs)
        if self.venue == "window":
            self.new_server()
        return self

    def __exit__(self, *exc_info: object) -> None:
        for process in self.own_processes():
            with suppress(OSError):
                os.kill(process, signal.SIGKILL)
        self.stack.close()

    @property
    def _outputs(self) -> bool:
        return any(fault.server == "two" for fault in self.faults)

    def new_server(self) -> None:
        """An X server of the same kind and size as the first."""
        self.notes["servers"] = number = self.notes.get("servers", 0) + 1
        place = self.folder / f"x{number}"
        place.mkdir()
        kind = two_outputs(place) if self._outputs else virtual_server(place, size="640x360")
        self.server = self.stack.enter_context(kind)

    # what faults use

    def ask(self, **question: Any) -> None:
        """One question to the simulated bench."""
        [path] = (self.folder / "tmp").glob("benchd-*/bench.sock")
        with socket.socket(socket.AF_UNIX) as line:
            line.settimeout(60.0)
            line.connect(str(path))
            line.sendall(json.dumps(question).encode() + b"\n")
            answer = json.loads(line.makefile("rb").readline())
        assert "error" not in answer, answer

    def pid(self, words: str) -> int | None:
        """The process of this case whose command line holds ``words``."""
        for process in self.own_processes():
            with suppress(OSError):
                command = Path(f"/proc/{process}/cmdline").read_bytes().replace(b"\0", b" ")
                if words.encode() in command:
                    return process
        return None

    def signal(self, words: str, number: signal.Signals) -> None:
        """Send a signal to that process, if it is there."""
        process = self.pid(words)
        if process is not None:
            with suppress(OSError):
                os.kill(process, number)

    def own_processes(self) -> list[int]:
        """Every process that was started for this case, the X server aside."""
        found = []
        for entry in Path("/proc").iterdir():
            if entry.name.isdigit():
                with suppress(OSError):
                    if self.mark.encode() in (entry / "environ").read_bytes():
                        found.append(int(entry.name))
        return found

    # the run

    def run(self) -> Ended:
        """Run, resume while it pauses, and judge."""
        ended = Ended(tuple(fault.name for fault in self.faults), self.venue, self.seed)
        began_s = time.monotonic()
        kept = b""
        words = ["run", "plan.yaml", "--bench", "bench.yaml", "--log", str(self.log.relative_to(self.folder))]
        while ended.sessions < MAX_SESSIONS:
            ended.sessions += 1
            (self.folder / "faults.txt").write_text("\n".join(line for one in self._active for line in one.lines))
            code, said = self._session(words)
            if code is None:
                ended.problems.append(f"session {ended.sessions} hung for {LONGEST_SESSION_S:g} s")
                break
            if "Traceback" in said or code not in (0, 3, -signal.SIGKILL):
                ended.problems.append(f"session {ended.sessions} ended with {code}: {said[-600:]}")
                break
            self._cure()
            kept = self._keep(kept, ended)
            if code == 0:
                break
            if code == 3:
                self._named(said, ended)
            words = ["resume", str(self.log.relative_to(self.folder))]
            if not kept:  # killed before anything was acknowledged
                self.log.unlink(missing_ok=True)
                words = ["run", "plan.yaml", "--bench", "bench.yaml", "--log", words[1]]
        else:
            ended.problems.append(f"not complete after {MAX_SESSIONS} sessions: {ended.pauses[-1:]}")
        if not ended.problems:
            self._judge(ended)
        self._look_for_leftovers(ended)
        ended.seconds = time.monotonic() - began_s
        return ended

    def _session(self, words: Sequence[str]) -> tuple[int | None, str]:
        environment = {
            **(self.server.environment if self.server else os.environ),
            "PYTHONPATH": f"{self.folder / 'site'}{os.pathsep}{ROOT}",
            "XDG_RUNTIME_DIR": str(self.folder / "runtime"),
            "XDG_STATE_HOME": str(self.folder / "state"),
            "TMPDIR": str(self.folder / "tmp"),
            "BENCHD_CAMPAIGN": self.mark,
        }
        errors = self.folder / "said.txt"
        with errors.open("wb") as stream:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "benchd", *words],
                cwd=self.folder,
                env=environment,
                stdin=subprocess.DEVNULL,
                stdout=stream,
                stderr=stream,
            )
        limit = time.monotonic() + LONGEST_SESSION_S
        while self.process.poll() is None:
            if time.monotonic() > limit:
                return None, errors.read_text(errors="replace")
            self._act()
            if all(one.begun and (one.ended or one.ends_at is None) for one in self._active):
                with suppress(subprocess.TimeoutExpired):  # nothing is to be done before it ends
                    self.process.wait(max(0.0, limit - time.monotonic()))
            else:
                time.sleep(0.003 if self.venue == "virtual" else 0.02)
        return self.process.returncode, errors.read_text(errors="replace")

    def _act(self) -> None:
        """Begin and end what is due."""
        waiting = [one for one in self._active if not one.begun]
        count = self._readings() if waiting else 0
        for one in waiting:
            if count >= one.reading:
                try:
                    one.fault.begin(self)
                except (OSError, ValueError):
                    continue  # the process that it is done to is coming or going: once more
                one.begun = True
                if one.fault.lasts_s is not None:
                    one.ends_at = time.monotonic() + one.fault.lasts_s
        for one in self._active:
            if one.ends_at is not None and not one.ended and time.monotonic() >= one.ends_at:
                one.ended = True
                one.fault.end(self)

    def _cure(self) -> None:
        """After a session: every cause that has begun is removed.

        A planned fault that passes by itself stays for one session more: the pause of another may have come first.
        """
        self._cures += 1
        for one in self._active:
            if not one.fault.passing or self._cures > 1:
                one.lines = []
            if one.fault.outlasts and one.begun and not self._has_named(one.fault):
                one.lines = [one.fault.outlasts]
            if one.begun and not one.ended:
                one.ended = True
                one.fault.end(self)

    def _has_named(self, fault: Fault) -> bool:
        """True when the operator can have read what to put right."""
        with suppress(OSError):
            text = self.log.read_text()
            return any(f'"error":"{error}"' in text for error in fault.errors)
        return False

    def _readings(self) -> int:
        """In the log, which only grows but where a disk is changed under it; what is known is not read again."""
        with suppress(OSError):
            if (size := self.log.stat().st_size) != self._counted[0]:
                self._counted = size, self.log.read_bytes().count(b'"kind":"reading"')
            return self._counted[1]
        return 0

    # judgement

    def _keep(self, kept: bytes, ended: Ended) -> bytes:
        """What was on disk before is there after."""
        data = self.log.read_bytes() if self.log.exists() else b""
        if not data.startswith(kept):
            ended.problems.append(f"acknowledged records were lost ({len(kept)} bytes before, {len(data)} after)")
        return data[: data.rfind(b"\n") + 1]

    def _named(self, said: str, ended: Ended) -> None:
        lines = [line for line in said.splitlines() if line.strip()]
        sentence = next(
            (line for line in reversed(lines) if re.match(r"Paused|Still paused|the log|another process", line)), ""
        )
        if not sentence or "resume" not in said:
            ended.problems.append(f"a pause without a name or a way on: {said[-400:]}")
        ended.pauses.append(sentence)

    def _judge(self, ended: Ended) -> None:
        records = list(LogFile(self.log).records())
        ended.errors = [record.body["error"] for record in records if record.kind == "fault"]
        if records[-1].kind != "ended":
            ended.problems.append(f"the log ends with {records[-1].kind}")
            return
        wrong = differences(reference(self.venue), blocks(self.log), exactly=self.venue == "virtual")
        if wrong:
            ended.problems.append(f"{len(wrong)} results differ: {'; '.join(wrong[:3])}")

    def _look_for_leftovers(self, ended: Ended) -> None:
        if not comes_true(lambda: not self.own_processes(), every_s=0.05):
            left = self.own_processes()
            names = [Path(f"/proc/{process}/cmdline").read_bytes().replace(b"\0", b" ")[:80] for process in left]
            ended.problems.append(f"processes are left running: {names}")


def blocks(log: Path) -> dict[str, Any]:
    """The results of a log as flat paths, without the numbers of the records."""
    flat: dict[str, Any] = {}

    def walk(path: str, part: object) -> None:
        if isinstance(part, dict):
            for key, value in part.items():
                walk(f"{path}/{key}", value)
        elif isinstance(part, list):
            for index, value in enumerate(part):
                walk(f"{path}/{index}", value)
        else:
            flat[path] = part

    walk("", to_compare(log))
    return flat


def differences(wanted: dict[str, Any], found: dict[str, Any], *, exactly: bool) -> list[str]:
    """The paths whose values differ; within noise, only luminances and statuses are compared."""
    wrong = []
    for path in sorted(wanted.keys() | found.keys()):
        a, b = wanted.get(path), found.get(path)
        if not exactly:
            if not path.endswith(("luminance/value", "luminance/status", "luminance/bound")):
                continue
            if isinstance(a, float) and isinstance(b, float) and abs(a - b) <= max(WITHIN * a, WITHIN_DARK_CD_M2):
                continue
        if a != b:
            wrong.append(f"{path}: {b} where {a} is right")
    return wrong


_REFERENCES: dict[Venue, dict[str, Any]] = {}


def reference(venue: Venue) -> dict[str, Any]:
    """The results of the fault-free run; run first, see `prepare`."""
    return _REFERENCES[venue]


def prepare(venues: Iterable[Venue], folder: Path) -> None:
    """The fault-free run of each venue. Raises AssertionError when even that does not end rightly."""
    for venue in venues:
        if venue in _REFERENCES:
            continue
        with Case(folder / f"right-{venue}", venue, (), 0) as case:
            _REFERENCES[venue] = {}
            case.notes["first"] = True
            code, said = _first(case)
            assert code == 0, said
            _REFERENCES[venue] = blocks(case.log)
            assert any(path.endswith("luminance/value") for path in _REFERENCES[venue])


def _first(case: Case) -> tuple[int | None, str]:
    (case.folder / "faults.txt").write_text("")
    log = str(case.log.relative_to(case.folder))
    return case._session(["run", "plan.yaml", "--bench", "bench.yaml", "--log", log])


def _write_bench(folder: Path, venue: Venue, *, two: bool) -> None:
    """The shipped simulated bench and dialect with short limits, its companion told the faults."""
    text = (ROOT / "profiles/meters/terse-line.yaml").read_text()
    # On virtual time an answer comes at once, however long the meter integrates.
    per_integration = 0.001 if venue == "virtual" else 1.2
    text = re.sub(r"fixed: [\d.]+, per_integration: [\d.]+", f"fixed: 1.0, per_integration: {per_integration}", text)
    text = re.sub(r"(within_s: |late_within_s: )[\d.]+", r"\g<1>1.2", text)
    (folder / "quick.yaml").write_text(text.replace("meter: terse-line", "meter: quick", 1))
    text = (ROOT / f"profiles/benches/{BENCHES[venue]}.yaml").read_text()
    text = text.replace("terse-line", str(folder / "quick.yaml")).replace("-m, sim.bench", str(folder / "companion.py"))
    if two:
        text = text.replace("--look,", '--look, --region, "1024x768+0+0",')
        text = text.replace("monitor: primary", "monitor: DUMMY0")
    (folder / "bench.yaml").write_text(text)
