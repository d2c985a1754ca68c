"""Talks to a service over its Unix socket: small, because every `benchd jobs` starts it anew."""

from __future__ import annotations

import http.client
import json
import os
import socket
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, TypeVar

from benchd.daemon.folders import bench_of
from benchd.daemon.job_control import Job, NotPossible, Snapshot, Submission, job_from, snapshot_from
from benchd.errors import BenchdError, Fault, InputError, ProfileError
from benchd.instruments.hold import private_folder

WITHIN_S = 30.0
Shape = TypeVar("Shape")

SILENT_S = 40.0  # an event stream sends a sign of life every 15 s


_SOME_BENCH = "sim-office, or with a bench of your own"
_SILENT = (
    ((FileNotFoundError, ConnectionRefusedError), "start one with: benchd serve --bench {bench}"),
    (PermissionError, "it belongs to another user"),
    (TimeoutError, "it is there, but did not answer in time"),
)


class NoService(BenchdError):
    """No service answers at the socket."""


@dataclass(frozen=True, slots=True)
class Client:
    """One service. Every method raises `NoService`, `NotPossible`, or an `InputError` with what was refused."""

    path: Path

    def status(self) -> Snapshot:
        """What is going on now."""
        return _whole(snapshot_from, self._ask("GET", "/v1/status"))

    def jobs(self) -> tuple[Job, ...]:
        """All jobs, the running one first."""
        return tuple(_whole(job_from, one) for one in self._ask("GET", "/v1/jobs"))

    def submit(self, submission: Submission) -> Job:
        """Queue a plan."""
        return _whole(job_from, self._ask("POST", "/v1/jobs", asdict(submission)))

    def act(self, job_id: str, action: str) -> Job:
        """``pause``, ``resume`` or ``cancel`` a job."""
        return _whole(job_from, self._ask("POST", f"/v1/jobs/{job_id}/{action}"))

    def tell(self, what: str) -> Snapshot:
        """``next``, ``again``, ``skip`` or ``stop``."""
        return _whole(snapshot_from, self._ask("POST", f"/v1/{what}"))

    def events(self, after: int | None = None) -> Iterator[Snapshot]:
        """Snapshots as they come, until the service ends. ``after`` is the number that was seen last."""
        headers = {"Accept": "text/event-stream", **({"Last-Event-ID": str(after)} if after is not None else {})}
        with closing(_Connection(self.path, SILENT_S)) as connection:
            answer = self._send(connection, "GET", "/v1/events", None, headers)
            if answer.status != 200:
                raise _refused(answer.status, answer.read())
            data: list[bytes] = []
            try:
                while line := answer.readline():
                    if line.startswith(b"data:"):
                        data.append(line[5:].strip())
                    elif not line.strip() and data:
                        yield _whole(snapshot_from, _parsed(b"\n".join(data)))
                        data = []
            except (OSError, http.client.HTTPException):
                return

    def _ask(self, method: str, path: str, body: Mapping[str, object] | None = None) -> Any:
        with closing(_Connection(self.path, WITHIN_S)) as connection:
            answer = self._send(connection, method, path, body, {})
            try:
                text = answer.read()
            except (OSError, http.client.HTTPException):
                raise self._silent("it stopped in the middle of its answer") from None
        if answer.status >= 400:
            raise _refused(answer.status, text)
        return _parsed(text)

    def _send(
        self,
        connection: http.client.HTTPConnection,
        method: str,
        path: str,
        body: Mapping[str, object] | None,
        headers: Mapping[str, str],
    ) -> http.client.HTTPResponse:
        data = None if body is None else json.dumps(body, ensure_ascii=False).encode()
        kind = {} if data is None else {"Content-Type": "application/json"}
        try:
            connection.request(method, path, data, {**kind, **headers})
            return connection.getresponse()
        except (OSError, http.client.HTTPException) as error:
            why = next((why for kinds, why in _SILENT if isinstance(error, kinds)), None)
            raise self._silent(why or f"it broke off: {error or type(error).__name__}") from None

    def _silent(self, why: str) -> NoService:
        where = f": there is no socket in {self.path}" if self.path == private_folder() else f" at {self.path}"
        return NoService(f"no service answers{where}; {why.format(bench=bench_of(self.path) or _SOME_BENCH)}")


class _Connection(http.client.HTTPConnection):
    def __init__(self, path: Path, timeout_s: float) -> None:
        super().__init__("localhost", timeout=timeout_s)
        self._path = path

    def connect(self) -> None:
        self.sock = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM | socket.SOCK_CLOEXEC)
        self.sock.settimeout(self.timeout)
        self.sock.connect(os.fspath(self._path))


def _refused(status: int, text: bytes) -> BenchdError:
    """The service's answer, as the error that the same fault is in a foreground command."""
    answer = _parsed(text)
    sentence = str(answer.get("error") or "it gave no reason") if isinstance(answer, dict) else "it gave no reason"
    if status in (404, 409):
        return NotPossible(sentence)
    if status == 400:
        faults = answer.get("faults") or () if isinstance(answer, dict) else ()
        return ProfileError(tuple(Fault(**fault) for fault in faults)) if faults else InputError(sentence)
    if status in (413, 415):
        return InputError(sentence)
    return NoService(f"the service did not take it ({status}): {sentence}")


def _parsed(text: bytes) -> Any:
    try:
        return json.loads(text)
    except ValueError:
        raise NoService(f"something answers that is no service of benchd ({text[:40]!r})") from None


def _whole(shape: Callable[[Any], Shape], value: Any) -> Shape:
    try:
        return shape(value)
    except ValueError as error:
        raise NoService(f"the service is of another version than this command ({error}); start it again") from None
