"""One thing that may be asked of the service, and one request for it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from benchd.daemon.http.events import Latest
from benchd.daemon.http.http_write import Answer
from benchd.daemon.job_control import JobControl


@dataclass(frozen=True, slots=True)
class Call:
    """One accepted request: the job control, the parameters of the path, and the body."""

    latest: Latest
    params: Mapping[str, str]
    body: bytes

    @property
    def desk(self) -> JobControl:
        """Requests to the service."""
        return self.latest.desk


@dataclass(frozen=True, slots=True)
class Route:
    """One thing that may be asked. ``takes`` and ``gives`` name shapes of `shapes.definitions`; "" is none."""

    method: str
    path: str  # ``{id}`` stands for a job's id
    name: str
    summary: str
    handle: Callable[[Call], Answer]
    status: int = 200
    gives: str = ""
    gives_many: bool = False
    takes: str = ""
    errors: tuple[int, ...] = ()
    public: bool = False  # needs no token
    streams: bool = False
    pattern: re.Pattern[str] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "pattern", re.compile(re.escape(self.path).replace(r"\{id\}", "(?P<id>[^/]{1,200})")))
