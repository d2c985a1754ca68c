"""The log on disk: append, one write and one fsync a record, a CRC on every line, read back and verified.

A line is one JSON object and ends with its own check sum::

    {"v":1,"seq":7,"wall":"…","session":"…","mono_ns":…,"kind":"reading","step":"…","attempt":1,"body":{…},"crc":"0a1b2c3d"}

The CRC-32 is taken over the bytes before ``,"crc"`` and compared as text, so that a flipped bit in the
check sum itself is seen too. A last line that stops short is torn (the write was cut): it is left out and
its bytes are counted. Any other bad line is refused with its number; `benchd.run.log.salvage` helps then.

A log that went through another system may have got CRLF ends of lines or a UTF-8 byte order mark. Neither is part of a
record, so it is read as it is, and what is appended to it has the ends of before.
"""

from __future__ import annotations

import errno
import fcntl
import hashlib
import json
import os
from codecs import BOM_UTF8
from collections.abc import Callable, Iterator
from contextlib import suppress
from operator import itemgetter
from pathlib import Path
from typing import NamedTuple
from zlib import crc32

from benchd.clock import Clock
from benchd.errors import InputError, JournalBusy, JournalError, LogRefused, NotALog, nearby
from benchd.run.log.records import (
    KEYS_BEFORE,
    KIND_BEFORE,
    KINDS,
    LOG_VERSION,
    VALUES_BEFORE,
    Body,
    Record,
    RunState,
    as_now,
    fold,
)
from benchd.user_folders import library_folder

BEGINS = b'{"v":'
"""The first bytes of a log: the version of its records."""
_TAIL = len(b',"crc":"00000000"}\n')
_BLOCK = 1 << 20
LONGEST_LINE = 64 << 20
"""Of any log: the first record has plan and profiles in it, all others are short."""


def encode(record: Record) -> bytes:
    """The line of ``record``, newline included. Raises ValueError for a NaN or an infinity."""
    text = json.dumps(
        {"v": LOG_VERSION, **record._asdict()}, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )
    head = text.encode()[:-1]
    return head + b',"crc":"%08x"}\n' % crc32(head)


def is_sound(line: bytes) -> bool:
    """True when ``line`` ends in a newline alone and its check sum is right."""
    head = line[:-_TAIL]
    return line[-_TAIL:] == b',"crc":"%08x"}\n' % crc32(head)


def as_written(line: bytes) -> bytes:
    """The line without what another system put around it: CRLF at its end, a byte order mark before the first one."""
    return (line[:-2] + b"\n" if line.endswith(b"\r\n") else line).removeprefix(BOM_UTF8)


_object_at_start = json.JSONDecoder().raw_decode
_envelope = itemgetter(*Record._fields)
_RENAMED = KIND_BEFORE.keys() | KEYS_BEFORE.keys() | VALUES_BEFORE.keys()


def decode(line: bytes) -> Record:
    """The record of a sound line. Raises ValueError when its shape is not ours."""
    text = line.decode()
    whole, end = _object_at_start(text)
    if text[end:] != "\n":
        raise ValueError("more than one object")
    try:
        version, record = whole["v"], tuple.__new__(Record, _envelope(whole))  # `_make` without its second look
    except KeyError as missing:
        raise ValueError(f"no {missing} in the envelope") from None
    if record.kind in _RENAMED:
        record = as_now(record)
    if version != LOG_VERSION or record.kind not in KINDS:
        raise UnknownRecord(f"{record.kind!r} of version {version!r}, and this benchd knows version {LOG_VERSION}")
    return record


class UnknownRecord(ValueError):
    """A sound line whose version or kind is not ours: as a newer benchd would write it."""


class LogFile:
    """A log opened for reading. The facts about its end are known once `records` is exhausted."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.lines = self.sound_bytes = 0
        self.torn, self.sha256 = b"", ""
        self.altered = False  # are there ends of lines, or a byte order mark, that benchd did not write?

    def records(self) -> Iterator[Record]:
        """Every record in order, verified as it is read; memory stays bounded.

        Raises `LogRefused` with the line's number for a damaged line, a gap in the sequence, or a file
        that is not a whole log; `NotALog` for one that never was a log.
        """
        # One loop with nothing in it that can stand outside: a log has a million lines.
        number = sound_bytes = 0
        for lines in self._whole_lines():
            for stands in lines:
                line, number = stands, number + 1
                if line[-_TAIL:] != b',"crc":"%08x"}\n' % crc32(line[:-_TAIL]):  # as `is_sound` gives it
                    line, self.altered = as_written(stands), True
                    if not is_sound(line):
                        raise self._refuse(number, "the check sum is wrong, so this line is damaged")
                try:
                    record = decode(line)
                except UnknownRecord as error:
                    # Nothing is damaged, so there is nothing to salvage.
                    text = f"the record is one of a newer benchd ({error}); update benchd to read this log"
                    raise LogRefused(str(self.path), number, text) from None
                except ValueError as error:
                    raise self._refuse(number, f"this is not a record of benchd ({error})") from None
                if record.seq != number:
                    raise self._refuse(number, f"sequence number {record.seq} where {number} must stand")
                if number == 1 and record.kind != "started":
                    raise self._refuse(1, "the first record is not `started`; this is not a whole log")
                sound_bytes += len(stands)
                yield record
        if is_sound(self.torn[:-1] + b"\n"):
            # A cut makes a line shorter: this one is whole, and its last byte was a newline once.
            raise self._refuse(number + 1, "the last line does not end in a newline, so it is damaged")
        self.lines, self.sound_bytes = number, sound_bytes
        if not number:
            self._refuse_what_is_no_log()
            raise LogRefused(str(self.path), 1, "no complete first record; nothing was started with this file")

    def _whole_lines(self) -> Iterator[list[bytes]]:
        """The lines of one block after the other; what stands after the last newline is kept as torn."""
        digest = hashlib.sha256()
        rest = b""
        try:
            with self.path.open("rb") as stream:
                while block := stream.read(_BLOCK):
                    digest.update(block)
                    lines = (rest + block).splitlines(keepends=True) if rest else block.splitlines(True)
                    # splitlines also splits at lone carriage returns; JSON escapes those, so a log has none.
                    rest = b"" if lines[-1].endswith(b"\n") else lines.pop()
                    if len(rest) > LONGEST_LINE:
                        raise self._refuse(0, f"a line has more than {LONGEST_LINE} bytes, which no log has")
                    yield lines
        except OSError as error:
            raise unreadable(self.path, error) from None
        self.torn = rest
        self.sha256 = digest.hexdigest()

    def _refuse(self, line: int, text: str) -> LogRefused:
        if line == 1:
            self._refuse_what_is_no_log()
        hint = f"; `benchd log salvage {self.path} --log NEW` writes what is sound to a new file" if line else ""
        return LogRefused(str(self.path), line, text + hint)

    def _refuse_what_is_no_log(self) -> None:
        if not may_be_a_log(self.path):
            raise NotALog(str(self.path), empty=not self.path.stat().st_size) from None


def unreadable(path: Path, error: OSError) -> LogRefused:
    """A log that can't be opened; one that is not there with the names of those that are."""
    if isinstance(error, FileNotFoundError):
        library = f"nor a log or a sample of that name in the library, which is {library_folder()}"
        elsewhere = f"{library}; a log kept elsewhere by --log is named by its path"
        what = nearby(path, elsewhere, suffix=".log")
        return LogRefused(str(path), 0, f"there is no such file{', ' if what == elsewhere else '; '}{what}")
    return LogRefused(str(path), 0, f"can't be read ({error.strerror})")


def begins_as_a_log(head: bytes) -> bool:
    """Are the first bytes of a file those of a log?"""
    return head.removeprefix(BOM_UTF8).startswith(BEGINS)


def may_be_a_log(path: Path) -> bool:
    """Does the file begin as a log does, or is there any check sum of a record in what it begins with?"""
    with path.open("rb") as stream:
        head = stream.read(_BLOCK)
    return begins_as_a_log(head) or bool(head and BEGINS.startswith(head)) or b',"crc":"' in head


class Cut(NamedTuple):
    """What was cut off the end of a log before it was continued."""

    bytes: int
    text: str


class Journal:
    """The one writer of a log. Every record is on disk before `append` returns.

    ``write`` and ``sync`` are injected so that a full disk can be tested.
    """

    def __init__(
        self,
        path: Path,
        descriptor: int,
        session: str,
        clock: Clock,
        lines: int,
        size: int,
        write: Callable[[int, bytes], int] = os.write,
        sync: Callable[[int], None] = os.fsync,
    ) -> None:
        self.path, self.session, self.clock = path, session, clock
        self._descriptor, self._seq, self._size = descriptor, lines, size
        self._write, self._sync = write, sync
        self._broken = ""

    def append(self, kind: str, step: str = "", attempt: int = 0, body: Body | None = None) -> Record:
        """Write one record, make it durable, and return it.

        Raises `JournalError` when it can't be made durable; then nothing of it stays in the file, and
        this journal takes no more records.
        """
        now_ns = int(self.clock.now_s() * 1e9)
        return self._put(
            Record(self._seq + 1, self.clock.wall(), self.session, now_ns, kind, step, attempt, body or {})
        )

    def copy(self, record: Record) -> Record:
        """Append a record of another log: all of it is kept but its sequence number."""
        return self._put(record._replace(seq=self._seq + 1))

    def _put(self, record: Record) -> Record:
        if self._broken:
            raise JournalError(self._broken)
        line = encode(record)
        try:
            if self._write(self._descriptor, line) != len(line):
                raise OSError(errno.ENOSPC, "no space left on the device")
            self._sync(self._descriptor)
            if not os.fstat(self._descriptor).st_nlink:
                raise OSError(errno.ENOENT, "its file was removed")
        except OSError as error:
            self._take_back()
            self._broken = (
                self._removed()
                if error.errno == errno.ENOENT
                else (
                    f"the log {self.path} can't be written ({error.strerror or error}); what was acknowledged "
                    "before is safe; make room or mount the disk again, then resume"
                )
            )
            raise JournalError(self._broken) from None
        self._seq += 1
        self._size += len(line)
        return record

    def _take_back(self) -> None:
        """Cut a half-written line off; when even that fails, the reader cuts it as a torn line."""
        with suppress(OSError):
            os.ftruncate(self._descriptor, self._size)
            os.fsync(self._descriptor)

    def _removed(self) -> str:
        """The file has lost its name, so that all of it would go with `close`: put a copy in its place."""
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with self.path.open("xb") as copy:
                copy.write(os.pread(self._descriptor, self._size, 0))
                copy.flush()
                os.fsync(copy.fileno())
            _sync_folder(self.path.parent)
        except OSError as error:
            return (
                f"the log {self.path} was removed while it was written, and could not be put back "
                f"({error.strerror}); start a new run with another log"
            )
        return (
            f"the log {self.path} was removed while it was written; what was acknowledged was put back there; "
            "keep it, then resume"
        )

    def close(self) -> None:
        """Let go of the file and of its lock."""
        os.close(self._descriptor)


def create(path: Path, clock: Clock, session: str) -> Journal:
    """A new, empty log; its folder is made. Raises `InputError` when it exists or can't be made."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR | os.O_APPEND | os.O_CLOEXEC, 0o644)
        _lock(descriptor, path)  # the file is new: no other process can hold it
        _sync_folder(path.parent)
    except FileExistsError:
        raise InputError(f"the log {path} exists already; name another file, or resume it") from None
    except OSError as error:
        raise InputError(f"the log {path} can't be made ({error.strerror}); choose another folder") from None
    return Journal(path, descriptor, session, clock, 0, 0)


def reopen(path: Path, clock: Clock, session: str) -> tuple[Journal, RunState, Cut]:
    """Open an existing log to go on with it, with the state of its run; a torn last line is cut.

    Raises `LogRefused` when it is damaged inside, `JournalBusy` when another process writes it.
    """
    try:
        descriptor = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CLOEXEC)
    except OSError as error:
        raise LogRefused(str(path), 0, f"can't be opened for writing ({error.strerror}); make it writable") from None
    try:
        _lock(descriptor, path)
        log = LogFile(path)
        state = fold(log.records())
        if log.torn:
            os.ftruncate(descriptor, log.sound_bytes)
            os.fsync(descriptor)
    except BaseException:
        os.close(descriptor)
        raise
    cut = Cut(len(log.torn), log.torn[:2000].decode(errors="replace"))
    return Journal(path, descriptor, session, clock, log.lines, log.sound_bytes), state, cut


def _lock(descriptor: int, path: Path) -> None:
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise JournalBusy(
            f"another process writes the log {path} at this moment; wait for it, or stop it first"
        ) from None


def _sync_folder(folder: Path) -> None:
    """Make the new name durable too: without this a power cut can lose the whole file."""
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
