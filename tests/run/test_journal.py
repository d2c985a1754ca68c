"""The log on disk: every cut, every flipped bit, a full disk, two writers."""

from __future__ import annotations

import errno
import json
import os
import random
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.clock import VirtualClock
from benchd.command.output import is_log
from benchd.errors import InputError, JournalBusy, JournalError, LogRefused, NotALog
from benchd.run.log import journal, log_ends
from benchd.run.log.records import Record, fold
from benchd.run.log.salvage import salvage

SEED = 20260302


def write_log(path: Path, steps: int = 3, readings: int = 2, end: bool = True) -> Path:
    log = journal.create(path, VirtualClock(), "session-a")
    log.append("started", body={"plan": {"name": "ünïcode", "text": "plan: x\r\nblocks: []\u2028"}})
    for step in range(1, steps + 1):
        log.append("shown", f"block/{step}", 1, {"patch": {"code": [step, step, step]}})
        for number in range(1, readings + 1):
            log.append("reading", f"block/{step}", 1, {"n": number, "xyz": [1.5 * step, 2.0 / 3, 0.1]})
        log.append("done", f"block/{step}", 1, {"readings": readings})
    if end:
        log.append("ended", body={"steps": steps})
    log.close()
    return path


@pytest.fixture
def log_path(tmp_path: Path) -> Path:
    return write_log(tmp_path / "a.log")


def read(path: Path) -> list[Record]:
    return list(journal.LogFile(path).records())


def test_what_is_written_is_read(log_path: Path) -> None:
    records = read(log_path)
    assert [record.seq for record in records] == list(range(1, len(records) + 1))
    assert records[0].body["plan"]["text"] == "plan: x\r\nblocks: []\u2028"
    state = fold(records)
    assert state.ended
    assert state.done == {"block/1": 1, "block/2": 1, "block/3": 1}
    assert state.readings == 6


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    st.text(),
    st.dictionaries(st.text(), st.one_of(st.floats(allow_nan=False, allow_infinity=False), st.text(), st.booleans())),
)
def test_any_body_survives_the_round_trip(step: str, body: dict[str, object]) -> None:
    try:
        record = Record(1, "w", "s", 5, "fault", step, 1, body)
        line = journal.encode(record)
    except UnicodeEncodeError:
        return  # lone surrogates are not text
    assert line.count(b"\n") == 1
    assert b"\r" not in line
    assert journal.is_sound(line)
    assert journal.decode(line) == record


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda whole: whole | {"v": 2}, "of version 2, and this benchd knows version 1"),
        (lambda whole: whole | {"kind": "dance"}, "'dance' of version 1"),
        (lambda whole: {key: value for key, value in whole.items() if key != "mono_ns"}, "no 'mono_ns'"),
        (lambda whole: {key: value for key, value in whole.items() if key != "v"}, "no 'v'"),
    ],
)
def test_a_line_of_another_shape_is_no_record(change: Callable[[dict[str, object]], object], words: str) -> None:
    line = journal.encode(Record(1, "w", "s", 5, "started", "", 0, {}))
    assert journal.decode(line).kind == "started"
    with pytest.raises(ValueError, match=words):
        journal.decode(json.dumps(change(json.loads(line))).encode() + b"\n")
    with pytest.raises(ValueError, match="more than one object"):
        journal.decode(line[:-1] + line)


def test_nan_is_never_written(tmp_path: Path) -> None:
    log = journal.create(tmp_path / "n.log", VirtualClock(), "s")
    with pytest.raises(ValueError, match="Out of range"):
        log.append("started", body={"value": float("nan")})
    log.close()
    assert (tmp_path / "n.log").read_bytes() == b""


def goes_on(cut: Path, lost: int, before: list[Record]) -> None:
    """A log whose last ``lost`` bytes are no whole record is continued after those ``before`` them."""
    opened, _, tail = journal.reopen(cut, VirtualClock(), "b")
    assert tail.bytes == lost
    opened.append("resumed", body={"cut_bytes": tail.bytes})
    opened.close()
    again = read(cut)
    assert again[: len(before)] == before
    assert (again[-1].kind, again[-1].seq) == ("resumed", len(before) + 1)


def test_cut_at_every_byte_opens_or_is_refused_with_the_line(log_path: Path, tmp_path: Path) -> None:
    whole = log_path.read_bytes()
    records = read(log_path)
    ends = [0]
    for line in whole.splitlines(keepends=True):
        ends.append(ends[-1] + len(line))
    for size in range(len(whole)):
        cut = tmp_path / "cut.log"
        cut.write_bytes(whole[:size])
        complete = max(index for index, end in enumerate(ends) if end <= size)
        if complete == 0:
            with pytest.raises(LogRefused) as refused:
                journal.reopen(cut, VirtualClock(), "b")
            assert refused.value.line == 1
            continue
        assert read(cut) == records[:complete]
        if size % 7 and size not in ends:
            continue  # reading covers every byte; going on with it is the same code, tried at every 7th
        goes_on(cut, size - ends[complete], records[:complete])


def test_no_flipped_bit_is_ever_accepted(tmp_path: Path) -> None:
    log_path = write_log(tmp_path / "short.log", steps=1, readings=1)
    whole = log_path.read_bytes()
    records = read(log_path)
    last_line = len(records)
    for position in range(len(whole)):
        for bit in range(8):
            flipped = bytearray(whole)
            flipped[position] ^= 1 << bit
            bad = tmp_path / "bad.log"
            bad.write_bytes(bytes(flipped))
            line = whole.count(b"\n", 0, position) + 1
            with pytest.raises(LogRefused) as refused:
                read(bad)
            assert refused.value.line == line, f"byte {position} bit {bit} of line {line} of {last_line}"


def test_a_missing_or_doubled_line_is_refused(log_path: Path) -> None:
    lines = log_path.read_bytes().splitlines(keepends=True)
    log_path.write_bytes(b"".join(lines[:4] + lines[5:]))
    with pytest.raises(LogRefused, match="sequence number 6 where 5 must stand"):
        read(log_path)
    log_path.write_bytes(b"".join(lines[:4] + lines[3:]))
    with pytest.raises(LogRefused) as refused:
        read(log_path)
    assert refused.value.line == 5


class FullDisk:
    """Writes until ``room`` bytes are used up, then short, then not at all: as a real full disk does."""

    def __init__(self, room: int) -> None:
        self.room = room

    def write(self, descriptor: int, data: bytes) -> int:
        if self.room <= 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        taken = min(self.room, len(data))
        self.room -= taken
        return os.write(descriptor, data[:taken])


@pytest.mark.parametrize("room", [0, 1, 100, 150, 199, 260, 700])
def test_a_full_disk_loses_nothing_acknowledged(tmp_path: Path, room: int) -> None:
    path = tmp_path / "full.log"
    log = journal.create(path, VirtualClock(), "s")
    log.append("started")
    disk = FullDisk(room)
    log._write = disk.write
    acknowledged = [1]
    with pytest.raises(JournalError, match=r"can't be written .* make room"):
        for _ in range(20):
            acknowledged.append(log.append("reading", "a", 1, {"n": 1}).seq)
    with pytest.raises(JournalError):
        log.append("paused")  # once it failed, nothing more is taken
    log.close()
    assert [record.seq for record in read(path)] == acknowledged
    opened, _, tail = journal.reopen(path, VirtualClock(), "b")
    assert tail.bytes == 0, "the half-written line was taken back"
    opened.close()


@pytest.mark.parametrize("taken", [False, True])
def test_a_log_that_is_removed_meanwhile_is_put_back(tmp_path: Path, taken: bool) -> None:
    path = tmp_path / "logs" / "a.log"
    log = journal.create(path, VirtualClock(), "s")
    log.append("started")
    log.append("shown", "a", 1)
    shutil.rmtree(path.parent)
    if taken:
        path.parent.mkdir()
        path.write_text("somebody else's")
    with pytest.raises(JournalError, match="could not be put back" if taken else "was put back there"):
        log.append("reading", "a", 1, {"n": 1})
    with pytest.raises(JournalError):
        log.append("paused")
    log.close()
    if taken:
        assert path.read_text() == "somebody else's"
        return
    assert [record.kind for record in read(path)] == ["started", "shown"]
    opened, _, _ = journal.reopen(path, VirtualClock(), "b")
    opened.close()


def test_a_failed_sync_is_never_acknowledged(tmp_path: Path) -> None:
    def fails(descriptor: int) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    log = journal.create(tmp_path / "s.log", VirtualClock(), "s")
    log.append("started")
    log._sync = fails
    with pytest.raises(JournalError):
        log.append("reading", "a", 1)
    log.close()
    assert len(read(tmp_path / "s.log")) == 1


def test_two_writers_in_two_processes(log_path: Path) -> None:
    opened, _, _ = journal.reopen(log_path, VirtualClock(), "b")
    code = (
        "import sys; from pathlib import Path\n"
        "from benchd.clock import VirtualClock; from benchd.run.log import journal\n"
        "from benchd.errors import JournalBusy\n"
        "try: journal.reopen(Path(sys.argv[1]), VirtualClock(), 'c')\n"
        "except JournalBusy as busy: print(busy); sys.exit(7)"
    )
    other = subprocess.run([sys.executable, "-c", code, str(log_path)], capture_output=True, text=True, check=False)
    assert other.returncode == 7, other.stderr
    assert "another process writes" in other.stdout
    assert len(read(log_path)) > 1  # reading never needs the lock
    opened.close()
    journal.reopen(log_path, VirtualClock(), "d")[0].close()


def test_busy_in_this_process_too(log_path: Path) -> None:
    opened, _, _ = journal.reopen(log_path, VirtualClock(), "b")
    with pytest.raises(JournalBusy):
        journal.reopen(log_path, VirtualClock(), "c")
    opened.close()


def test_an_existing_log_is_never_overwritten(log_path: Path) -> None:
    before = log_path.read_bytes()
    with pytest.raises(InputError, match="exists already"):
        journal.create(log_path, VirtualClock(), "b")
    assert log_path.read_bytes() == before


@pytest.mark.parametrize(
    ("content", "line"),
    [
        (b"", 1),
        (b"plan: quick\n", 1),
        (b"\n", 1),
        (b"\x00" * 4096, 1),
        (b"{}\n", 1),
    ],
)
def test_what_is_no_log_is_refused(tmp_path: Path, content: bytes, line: int) -> None:
    path = tmp_path / "no.log"
    path.write_bytes(content)
    with pytest.raises(LogRefused) as refused:
        read(path)
    assert refused.value.line == line


def test_a_missing_file_and_a_folder_are_refused_in_a_sentence(tmp_path: Path) -> None:
    for path, text in ((tmp_path / "none.log", "there is no such file, nor a log"), (tmp_path, "can't be read")):
        with pytest.raises(LogRefused, match=text):
            read(path)
    (tmp_path / "noon.log").touch()
    with pytest.raises(LogRefused, match=r"did you mean .*/noon\.log\?"):
        read(tmp_path / "none.log")


def damaged(whole: bytes, generator: random.Random) -> Iterator[tuple[int, bytes]]:
    lines = whole.splitlines(keepends=True)
    for number in range(2, len(lines) + 1):
        line = bytearray(lines[number - 1])
        line[generator.randrange(len(line) - 1)] ^= 0x10
        yield number, b"".join([*lines[: number - 1], bytes(line), *lines[number:]])


def test_salvage_keeps_what_is_sound_and_never_counts_a_step_with_lost_readings(log_path: Path, tmp_path: Path) -> None:
    whole = log_path.read_bytes()
    original = read(log_path)
    for number, content in damaged(whole, random.Random(SEED)):
        source, target = tmp_path / "bad.log", tmp_path / f"good-{number}.log"
        source.write_bytes(content)
        counts = salvage(source, target, VirtualClock(), "b")
        lost = original[number - 1]
        assert counts.damaged == 1, f"seed {SEED}"
        records = read(target)
        assert len(records) == counts.kept + 1  # and the fault that tells of the damage
        state = fold(records)
        assert not state.ended
        if lost.kind in ("shown", "reading", "done"):
            assert lost.step not in state.done
        opened, _, _ = journal.reopen(target, VirtualClock(), "c")
        opened.close()


def test_salvage_refuses_a_log_without_its_plan(log_path: Path, tmp_path: Path) -> None:
    whole = bytearray(log_path.read_bytes())
    whole[10] ^= 1
    log_path.write_bytes(bytes(whole))
    with pytest.raises(LogRefused, match="holds the plan and is lost"):
        salvage(log_path, tmp_path / "new.log", VirtualClock(), "b")
    assert not (tmp_path / "new.log").exists()


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"", "this is an empty file"),
        (b"hello\nworld\n", "this is no log of benchd"),
        (b"plan: quick", "this is no log of benchd"),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "this is no log of benchd"),
        (b"x" * 3_000_000, "this is no log of benchd"),
    ],
)
def test_what_never_was_a_log_is_not_called_damaged(tmp_path: Path, content: bytes, what: str) -> None:
    path = tmp_path / "other"
    path.write_bytes(content)
    clock = VirtualClock()
    for use in (
        lambda: read(path),
        lambda: journal.reopen(path, clock, "b"),
        lambda: salvage(path, tmp_path / "new.log", clock, "b"),
    ):
        with pytest.raises(NotALog, match=what) as caught:
            use()
        assert "salvage" not in str(caught.value)
        assert "give the log that `benchd run`" in str(caught.value)
    assert path.read_bytes() == content
    assert not (tmp_path / "new.log").exists()


def test_a_log_that_is_damaged_at_its_beginning_is_called_damaged(log_path: Path) -> None:
    sound = log_path.read_bytes()
    for damaged in (b"X" + sound, sound[1:], sound[40:], sound.replace(b"started", b"STARTED"), sound[:30]):
        log_path.write_bytes(damaged)
        with pytest.raises(LogRefused) as caught:
            read(log_path)
        assert not isinstance(caught.value, NotALog)
        assert caught.value.line == 1


def test_names_of_an_earlier_log_are_read_as_those_of_now() -> None:
    """A log of before has ``doubted`` and ``anchors``; what was read of it is what is read of a log of now."""
    earlier = (
        Record(2, "", "s", 2, "done", "a/white", 1, {"readings": 3, "anchor": "bright", "luminance_cd_m2": 350.0}),
        Record(3, "", "s", 3, "checked", "", 0, {"anchors": {"bright": {"step": "a/white", "luminance_cd_m2": 351.0}}}),
        Record(4, "", "s", 4, "doubted", "", 0, {"steps": ["a/white"], "anchors_dropped": ["bright"]}),
    )
    read = [journal.decode(journal.encode(record)) for record in earlier]
    assert [record.kind for record in read] == ["done", "checked", "invalidated"]
    assert fold(read[:2]).reference_checks["bright"].luminance_cd_m2 == 351.0
    assert (fold(read).done, fold(read).reference_checks) == ({}, {})


def test_values_of_an_earlier_log_are_read_as_those_of_now() -> None:
    """Who moved the meter or set a control was ``hand``, and is the operator."""
    body = {"control": "preset", "asked": "warm", "read_back": None, "original": None, "restoring": False}
    earlier = (
        Record(2, "", "s", 2, "moved", "a/white", 1, {"place": "r1c1", "at": [0.1, 0.1], "by": "hand"}),
        Record(3, "", "s", 3, "set", "a/white", 0, {**body, "by": "hand"}),
        Record(4, "", "s", 4, "set", "a/white", 0, {**body, "control": "mode", "by": "ddc"}),
    )
    read = [journal.decode(journal.encode(record)) for record in earlier]
    assert [record.body["by"] for record in read] == ["operator", "operator", "ddc"]
    assert fold(read).set_manually == {"preset"}


def test_a_line_without_an_end_is_refused_before_all_of_it_is_held(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journal, "LONGEST_LINE", 3 << 20)
    log = tmp_path / "a.log"
    log.write_bytes(journal.BEGINS + b"x" * (5 << 20))
    with pytest.raises(LogRefused, match="a line has more than"):
        list(journal.LogFile(log).records())


ALTERED = {
    "CRLF": lambda content: content.replace(b"\n", b"\r\n"),
    "byte order mark": lambda content: b"\xef\xbb\xbf" + content,
    "both": lambda content: b"\xef\xbb\xbf" + content.replace(b"\n", b"\r\n"),
    "CRLF from the fourth line on": lambda content: b"".join(
        line if at < 3 else line[:-1] + b"\r\n" for at, line in enumerate(content.splitlines(True))
    ),
}
"""What another system may have made of a log on its way."""


@pytest.mark.parametrize("how", ALTERED)
@pytest.mark.parametrize("block", [1, 7, 100, 1 << 20])
def test_ends_of_lines_and_marks_of_another_system_alter_no_record(
    log_path: Path, how: str, block: int, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    records, sound = read(log_path), log_path.read_bytes()
    last = log_ends.last_record(log_path)
    log_path.write_bytes(ALTERED[how](sound))
    monkeypatch.setattr(journal, "_BLOCK", block)
    log = journal.LogFile(log_path)
    assert list(log.records()) == records
    assert (log.altered, log.torn, log.sound_bytes) == (True, b"", log_path.stat().st_size)
    monkeypatch.undo()
    assert log_ends.last_record(log_path) == last
    assert is_log(log_path)
    counts = salvage(log_path, tmp_path / "new.log", VirtualClock(), "b")
    assert (counts.kept, counts.damaged, counts.undone) == (len(records), 0, 0)
    assert (tmp_path / "new.log").read_bytes() == sound


@pytest.mark.parametrize("how", ALTERED)
def test_a_log_of_another_system_is_continued_after_every_cut(tmp_path: Path, how: str) -> None:
    records = read(write_log(tmp_path / "a.log", steps=1, readings=1))
    whole = ALTERED[how]((tmp_path / "a.log").read_bytes())
    ends = [0]
    for line in whole.splitlines(keepends=True):
        ends.append(ends[-1] + len(line))
    for size in range(ends[1], len(whole) + 1):
        cut = tmp_path / "cut.log"
        cut.write_bytes(whole[:size])
        complete = max(index for index, end in enumerate(ends) if end <= size)
        if whole[:size].endswith(b"\r"):  # a whole record without an end: nothing is cut off
            with pytest.raises(LogRefused, match="does not end in a newline"):
                journal.reopen(cut, VirtualClock(), "b")
            continue
        goes_on(cut, size - ends[complete], records[:complete])


def test_a_damaged_line_is_damaged_with_any_end(log_path: Path) -> None:
    for content in (log_path.read_bytes(), *(how(log_path.read_bytes()) for how in ALTERED.values())):
        log_path.write_bytes(content.replace(b'"n":1', b'"n":3', 1))
        with pytest.raises(LogRefused, match="the check sum is wrong"):
            read(log_path)
