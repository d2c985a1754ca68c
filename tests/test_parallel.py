"""Work over several processes is that of a loop: the same results, order and errors, whatever becomes of a child."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator

import pytest

from benchd import parallel
from benchd.parallel import Spread, spread

PARENT = os.getpid()


@pytest.fixture(autouse=True)
def two_cores_and_no_other_thread(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Threads of the test runner hold nothing that these children touch."""
    monkeypatch.setattr(parallel, "cores", lambda: 2)
    monkeypatch.setattr(sys, "_current_frames", lambda: {0: None})
    open_before = os.listdir("/proc/self/fd")
    yield
    assert os.listdir("/proc/self/fd") == open_before


def in_a_child(act: Callable[[], object]) -> Callable[[int], tuple[int, bool]]:
    """Work that does ``act`` first where it runs in a child, and says whether it ran there."""

    def work(number: int) -> tuple[int, bool]:
        if os.getpid() != PARENT:
            act()
        return number, os.getpid() != PARENT

    return work


def begun_by_the_child(work: Callable[[int], tuple[int, bool]], many: int = 6) -> list[tuple[int, bool]]:
    """The results when a child has taken all, or has ended, before this process joins in."""
    with Spread(work, range(many)) as begun:
        (child,) = begun._children
        os.waitid(os.P_PID, child, os.WEXITED | os.WNOWAIT)
        return begun.results()


def test_the_results_are_in_order_wherever_they_are_made() -> None:
    assert spread(lambda one: one * one, range(100)) == [one * one for one in range(100)]
    assert begun_by_the_child(in_a_child(lambda: None)) == [(number, True) for number in range(6)]


def test_a_single_thing_is_done_here_and_nothing_nowhere() -> None:
    where = in_a_child(lambda: None)
    with Spread(where, [7]) as alone:
        assert alone.results() == [(7, False)]
    with Spread(where, []) as nothing:
        assert nothing.results() == []


@pytest.mark.parametrize(
    "act",
    [
        lambda: os.kill(os.getpid(), signal.SIGKILL),
        lambda: os._exit(1),
        lambda: 1 / 0,
        lambda: sys.exit(3),
        lambda: os.kill(os.getpid(), signal.SIGINT),
    ],
    ids=["killed", "ended", "error", "exit", "Ctrl-C"],
)
def test_what_a_child_could_not_do_is_done_here(act: Callable[[], object]) -> None:
    assert begun_by_the_child(in_a_child(act)) == [(number, False) for number in range(6)]


def test_what_a_child_has_done_before_it_was_killed_is_kept_or_done_again() -> None:
    done: list[int] = []

    def third_kills() -> None:
        done.append(0)
        if len(done) == 3:
            os.kill(os.getpid(), signal.SIGKILL)

    assert [number for number, _ in begun_by_the_child(in_a_child(third_kills))] == list(range(6))


def test_the_first_error_in_order_is_raised() -> None:
    def work(number: int) -> int:
        if number in (2, 4):
            raise ValueError(f"the error of {number}")
        return number

    with pytest.raises(ValueError, match="the error of 2"):
        spread(work, range(6))


def test_children_end_with_the_block_though_nobody_asked_for_results() -> None:
    with Spread(lambda _: signal.pause(), range(2)) as begun:
        (child,) = begun._children
    with pytest.raises(ProcessLookupError):
        os.kill(child, 0)


def test_one_core_and_another_thread_mean_a_loop(monkeypatch: pytest.MonkeyPatch) -> None:
    work = in_a_child(lambda: None)
    monkeypatch.setattr(sys, "_current_frames", lambda: {0: None, 1: None})
    assert spread(work, range(4)) == [(number, False) for number in range(4)]
    monkeypatch.setattr(sys, "_current_frames", lambda: {0: None})
    monkeypatch.setattr(parallel, "cores", lambda: 1)
    assert spread(work, range(4)) == [(number, False) for number in range(4)]
    assert spread(work, []) == []


CTRL_C = """
import os, signal, time
from benchd import interrupt
from benchd.parallel import Spread
interrupt.install()
with Spread(lambda _: time.sleep(60), range(2)) as begun:
    print(*begun._children, flush=True)
    begun.results()
"""


def test_ctrl_c_ends_the_children_too() -> None:
    """Sent to the parent alone, as `kill -INT` does; a terminal sends it to all."""
    process = subprocess.Popen(
        [sys.executable, "-c", CTRL_C], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    child = int(process.stdout.readline())
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=60)
    assert (process.returncode, said) == (130, "Stopped by Ctrl-C. What is in a log is safe.\n")
    with pytest.raises(ProcessLookupError):
        os.kill(child, 0)
