"""Where a service keeps what; a quick look at a log; lines of its own log; signals."""

from __future__ import annotations

import json
import logging
import os
import random
import re
import signal
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.clock import Deadline, VirtualClock, moment_from, moment_s, wall_s
from benchd.daemon.folders import NoPlace, ServiceLocks, ServiceRuns, find_socket, places
from benchd.daemon.operator_prompt import PositionRecord
from benchd.daemon.process import on_signals, set_up
from benchd.errors import InputError
from benchd.run.log import journal
from benchd.run.log.journal import LogFile
from benchd.run.log.log_ends import has_begun, last_record
from benchd.user_folders import state_folder
from tests.daemon.scene import make_bench


@settings(derandomize=True, max_examples=300, deadline=None)
@given(sample=st.text(max_size=300))
def test_no_sample_leads_out_of_the_folder(sample: str) -> None:
    where = places("b", Path("/srv/b"))
    log = where.new_log("j1", sample)
    assert log.parent.parent == where.logs
    assert log.parent.name not in ("", ".", "..")
    assert len(os.fsencode(log.parent.name)) <= 255
    assert Path(os.path.normpath(log)) == log


def test_the_state_folder_is_the_users(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    assert places("sim-office", None).folder == tmp_path / "benchd" / "sim-office"
    monkeypatch.setenv("XDG_STATE_HOME", "relative")  # to be ignored: XDG Base Directory Specification 0.8
    monkeypatch.setenv("HOME", str(tmp_path))
    assert state_folder() == tmp_path / ".local" / "state" / "benchd"


def test_the_only_socket_is_found_and_several_must_be_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    monkeypatch.delenv("BENCHD_SOCKET", raising=False)
    folder = tmp_path / f"benchd-{os.getuid()}"
    folder.mkdir()
    (folder / "one.sock").touch()
    assert find_socket(None, None) == folder / "one.sock"
    (folder / "two.sock").touch()
    with pytest.raises(InputError, match="one, two"):
        find_socket(None, None)
    assert find_socket(None, "profiles/benches/two.yaml") == folder / "two.sock"
    monkeypatch.setenv("BENCHD_SOCKET", "/run/three.sock")
    assert find_socket(None, "two") == Path("/run/three.sock")
    assert find_socket("/run/four.sock", "two") == Path("/run/four.sock")


def test_one_service_a_bench_and_one_a_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    first = ServiceLocks(places("one", tmp_path / "a"))
    with pytest.raises(ServiceRuns, match=f"bench one already .process {os.getpid()}.*benchd stop"):
        ServiceLocks(places("one", tmp_path / "b"))
    with pytest.raises(ServiceRuns, match="the folder"):
        ServiceLocks(places("two", tmp_path / "a"))
    other = ServiceLocks(places("two", tmp_path / "b"))  # a refusal keeps no lock
    first.release()
    again = ServiceLocks(places("one", tmp_path / "a"))
    again.release()
    other.release()
    (tmp_path / "file").touch()
    with pytest.raises(NoPlace, match="--folder"):
        ServiceLocks(places("three", tmp_path / "file"))


def test_a_glance_agrees_with_the_whole_log_wherever_it_is_cut(tmp_path: Path) -> None:
    path = tmp_path / "a.log"
    out = journal.create(path, VirtualClock(), "s")
    out.append("started", body={"plan": "x" * 200_000})
    for number in range(20):
        out.append("reading", f"step-{number}", 1, {"raw": "y" * (number * 1000)})
    out.close()
    data = path.read_bytes()
    generator = random.Random(7)
    ends = [0, 1, data.index(b"\n"), data.index(b"\n") + 1, len(data) - 1, len(data)]
    for end in [*ends, *(generator.randrange(len(data)) for _ in range(60))]:
        path.write_bytes(data[:end])
        assert has_begun(path) == (b"\n" in data[:end])
        if has_begun(path):
            cut = data[: data[:end].rindex(b"\n") + 1]
            path.write_bytes(cut)
            whole = list(LogFile(path).records())
            path.write_bytes(data[:end])
            assert last_record(path) == whole[-1]
    path.write_bytes(data[:-3] + b"xx\n")
    assert last_record(path) is None
    assert not has_begun(tmp_path / "nothing.log")


def test_the_place_of_the_meter_outlives_the_service(tmp_path: Path) -> None:
    hand = PositionRecord(tmp_path, make_bench())
    assert hand.place == "centre"
    hand.asked("r1c1")
    assert PositionRecord(tmp_path, make_bench()).place == "r1c1", "from the question on it may be anywhere"
    hand.asked("centre")
    assert PositionRecord(tmp_path, make_bench()).place != "centre"
    hand.confirmed("centre")
    assert PositionRecord(tmp_path, make_bench()).place == "centre"


@pytest.mark.parametrize("form", ["json", "text"])
def test_a_line_of_the_services_log(
    form: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TZ", "EST5")
    time.tzset()
    before = logging.getLogger().handlers[:]
    try:
        set_up(form, "info")  # type: ignore[arg-type]
        logger = logging.getLogger("benchd.service")
        logger.debug("not told")
        logger.info("job complete", extra={"facts": {"job": "j1", "log": Path("/a"), "why": "", "sign": "²"}})
        try:
            raise ValueError("oh")
        except ValueError:
            logger.exception("unknown error")
    finally:
        monkeypatch.undo()
        time.tzset()
        logging.getLogger().handlers[:] = before
        logging.getLogger().setLevel(logging.WARNING)
        logging.getLogger("benchd").setLevel(logging.NOTSET)
    said = capsys.readouterr().err
    if form == "text":
        assert re.match(r"2\d{3}-\d\d-\d\d \d\d:\d\d:\d\d EST info    job complete  job: j1  log: /a  ", said)
        return
    first, second = (json.loads(line) for line in said.splitlines())
    assert first["wall"].endswith("Z"), "UTC"
    assert first == {"wall": first["wall"], "level": "info", "event": "job complete", "job": "j1", "log": "/a", "why": "", "sign": "²"}  # fmt: skip  # noqa: E501
    assert "ValueError: oh" in second["traceback"]


def test_a_signal_comes_as_a_call_from_another_thread() -> None:
    told: list[str] = []
    before = signal.getsignal(signal.SIGTERM)
    with on_signals(told.append):
        os.kill(os.getpid(), signal.SIGTERM)
        os.kill(os.getpid(), signal.SIGINT)
        deadline = Deadline.after(60)
        while len(told) < 2 and not deadline.passed:
            deadline.left_s  # noqa: B018 - let the other thread run
    assert sorted(told) == ["Ctrl-C", "SIGTERM"]
    assert signal.getsignal(signal.SIGTERM) is before


def test_moments_are_told_as_people_tell_them(monkeypatch: pytest.MonkeyPatch) -> None:
    assert moment_from("2026-03-02T18:00:00Z") == moment_from("2026-03-02T19:00:00+01:00")
    assert moment_s("2026-03-02T18:00:00Z") == 1772474400  # from memory: date -d of GNU coreutils
    soon_s = moment_s(moment_from("18:00")) - wall_s()
    assert 0 < soon_s <= 86400 + 3600, "the next one"
    assert "T18:00:00" in moment_from("18:00")
    for text in ("", "6", "18:61", "tomorrow", "2026-13-01T00:00"):
        with pytest.raises(ValueError):  # noqa: PT011
            moment_from(text)
    with pytest.raises(ValueError, match="offset"):
        moment_s("2026-03-02T18:00:00")
