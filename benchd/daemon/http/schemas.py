"""What travels beside the dataclasses of `job_control`, and what their brief form leaves out. Light imports only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from benchd.daemon.job_control import Submission

Json = dict[str, Any]

BODY_BYTES = 4 * 1024 * 1024
"""The largest body of a request: a plan and the files that it names."""

JOB_ID = "^j[1-9][0-9]{0,8}$"

BRIEF: Mapping[type, frozenset[str]] = {Submission: frozenset({"plan_text", "files"})}
"""What the brief form leaves out. A snapshot goes to every watcher with every change: plans don't."""


@dataclass(frozen=True, slots=True)
class WireFault:
    """One fault in a submitted file. ``line`` and ``column`` count from 1."""

    file: str
    line: int
    column: int
    text: str


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a request was refused: one sentence, and all errors in a submitted file."""

    error: str
    faults: tuple[WireFault, ...] = ()
