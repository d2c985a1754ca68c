"""Ctrl-C at drawn instants of real commands, as a terminal sends it: to the command and to whatever it started.

Each command is begun by the function that the installed script calls. It ends by itself, or with one sentence and 130,
or with a paused run and 3; a second Ctrl-C changes nothing of that.
"""

from __future__ import annotations

import os
import random
import re
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import pytest

from benchd import interrupt
from benchd.exits import Exit
from benchd.report.whole_file import whole_file
from benchd.run.job import plan_job
from benchd.run.log.journal import LogFile
from benchd.run.log.records import fold
from tests.command.conftest import environment
from tests.run.kill_anywhere import session

SEED = 83
INSTANTS = 6  # of each command
LASTS_S = 1.0
"""About as long as the longest of the commands; most instants are early, where imports are."""
ENDS_WITHIN_S = 60.0
SCRIPT = (
    "import os, sys\n"
    "sys.argv[0] = 'benchd'\n"
    "from benchd.__main__ import main\n"
    "os.write({mark}, b'!')\n"
    "sys.exit(main())\n"
)
RUN = ("run", "quick", "--bench", "sim-office", "--log", "run.log")


class Ended(NamedTuple):
    """What became of a command."""

    code: int
    said: str


def interrupted(folder: Path, words: Sequence[str], *after_s: float) -> Ended:
    """The command, begun and then interrupted so many seconds after its first line, and after each other."""
    ours, mark = os.pipe()
    with subprocess.Popen(
        [sys.executable, "-c", SCRIPT.format(mark=mark), *words],
        cwd=folder,
        env=environment(folder),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        pass_fds=[mark],
        start_new_session=True,  # a group of its own, as a terminal gives it
        # Tests that were begun with `&` in a script ignore Ctrl-C, and their children would.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    ) as process:
        os.close(mark)
        assert os.read(ours, 1) == b"!"
        os.close(ours)
        for seconds in after_s:
            time.sleep(seconds)
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGINT)
        out, errors = process.communicate(timeout=ENDS_WITHIN_S)
    return Ended(process.returncode, out + errors)


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The log of the plan `quick`."""
    path = tmp_path_factory.mktemp("ctrl-c") / "quick.log"
    assert session(plan_job("quick"), path, "office-lcd").complete
    return path


@pytest.mark.parametrize(
    "words",
    [
        ("--help",),
        ("plan", "sdr-standard", "--bench", "sim-office"),
        ("results", "{log}"),
        ("report", "{log}", "-o", "page.html"),
        ("library", "list", "--library", "."),
        RUN,
    ],
    ids=lambda words: words[0],
)
def test_ctrl_c_at_any_instant_leaves_one_sentence_and_no_traceback(
    tmp_path: Path, log: Path, words: tuple[str, ...]
) -> None:
    generator = random.Random(f"{SEED} {words[0]}")
    for trial in range(INSTANTS):
        folder = tmp_path / str(trial)
        folder.mkdir()
        first_s = LASTS_S * generator.random() ** 3
        second = [generator.choice([0.0, 0.02 * generator.random()])] if trial % 2 else []
        code, said = interrupted(folder, [word.format(log=log) for word in words], first_s, *second)
        where = f"seed {SEED}, trial {trial}, {first_s:.3f} s{second}: {said[-800:]}"
        assert "Traceback" not in said, where
        assert "KeyboardInterrupt" not in said, where
        assert "xception" not in said, where
        assert said.count("Stopped") == (code == Exit.STOPPED or "at once" in said), where
        assert code in (Exit.COMPLETE, Exit.STOPPED, Exit.PAUSED), where
        assert not list(folder.glob(".*.part")), where
        if code == Exit.PAUSED:
            assert "Go on with: benchd resume run.log" in said, where
            assert not fold(LogFile(folder / "run.log").records()).ended, where


def test_what_begins_with_ctrl_c_ignored_goes_on(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "benchd", "plan", "quick"],
        env=environment(tmp_path),
        stdout=subprocess.PIPE,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_IGN),
    )
    process.send_signal(signal.SIGINT)
    assert b"Plan quick" in process.communicate(timeout=ENDS_WITHIN_S)[0]
    assert process.returncode == 0


def _write_half_a_file(path: Path) -> None:
    interrupt.install()
    interrupt.on_ctrl_c("Enough.", 3)
    with whole_file(path) as aside:
        aside.write_text("half")
        os.kill(os.getpid(), signal.SIGINT)


def test_what_is_half_written_is_taken_away_and_the_sentence_said_once(tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    path.write_text("before")
    code = "from pathlib import Path\nfrom tests.command.test_ctrl_c import _write_half_a_file\n"
    done = subprocess.run(
        [sys.executable, "-c", f"{code}_write_half_a_file(Path({str(path)!r}))"],
        env=environment(tmp_path),
        capture_output=True,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    assert (done.returncode, done.stdout, done.stderr) == (3, "", "Enough.\n")
    assert path.read_text() == "before"
    assert not list(tmp_path.glob(".*.part"))


def test_a_child_of_a_fork_ends_without_a_word(capfd: pytest.CaptureFixture[str]) -> None:
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            "import os, signal\nfrom benchd import interrupt\ninterrupt.install()\n"
            "if child := os.fork():\n    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))\n"
            "else:\n    os.kill(os.getpid(), signal.SIGINT)\n",
        ],
        capture_output=True,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    assert (done.stdout, done.stderr) == ("130\n", "")


def test_the_script_begins_where_ctrl_c_is_answered() -> None:
    text = (Path(__file__).resolve().parents[2] / "pyproject.toml").read_text()
    assert re.search(r'^benchd = "benchd\.__main__:main"$', text, re.MULTILINE)
    assert Exit.STOPPED == interrupt.STOPPED == 128 + signal.SIGINT
