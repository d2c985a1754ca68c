"""A job as the bytes of its file, and back: JSON with a check sum, so that a flipped bit in a plan is seen."""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping
from dataclasses import asdict, fields
from typing import Any

from benchd.daemon.job_control import Job, JobState, LatestFault, LatestReading, Snapshot, Submission

VERSION = 1


def to_bytes(job: Job) -> bytes:
    """``{"benchd_job":1,"crc":"0a1b2c3d","job":{…}}`` and a newline; the CRC-32 is taken over the job's JSON."""
    body = json.dumps(asdict(job), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    crc = f"{zlib.crc32(body.encode()):08x}"
    return f'{{"benchd_job":{VERSION},"crc":"{crc}","job":{body}}}\n'.encode()


def from_bytes(data: bytes) -> Job:
    """The job in a file. Raises ValueError with the reason."""
    head, mark, rest = data.partition(b',"job":')
    if not mark or not rest.endswith(b"}\n"):
        raise ValueError("it is not whole")
    body = rest[:-2]
    try:
        envelope = json.loads(head + b"}")
        version, crc = envelope["benchd_job"], envelope["crc"]
    except (ValueError, KeyError, TypeError):
        raise ValueError("its beginning is not that of a job") from None
    if version != VERSION:
        raise ValueError(f"it is of version {version}, and this benchd reads version {VERSION}")
    if crc != f"{zlib.crc32(body):08x}":
        raise ValueError("its check sum is wrong")
    return job_from(json.loads(body))


def job_from(value: Any) -> Job:
    """The job in parsed JSON, whole or brief (without plan text and files). Raises ValueError."""
    given = _object(value, "a job")
    submission = _object(given.get("submission"), "a submission")
    defaults = {"plan_text": "", "files": {}}
    try:
        told = Submission(**{**defaults, **_known(Submission, submission)})
        return Job(**{**_known(Job, given), "submission": told, "state": JobState(str(given.get("state")))})
    except TypeError as error:
        raise ValueError(f"it is not a job ({error})") from None


def snapshot_from(value: Any) -> Snapshot:
    """The snapshot in parsed JSON; unknown keys are passed over. Raises ValueError."""
    given = _object(value, "a snapshot")
    try:
        return Snapshot(
            **{
                **_known(Snapshot, given),
                "job": job_from(given["job"]) if given.get("job") else None,
                "at": tuple(given.get("at", (0.5, 0.5))),
                "readings": tuple(LatestReading(**_known(LatestReading, one)) for one in given.get("readings", ())),
                "faults": tuple(LatestFault(**_known(LatestFault, one)) for one in given.get("faults", ())),
                "queue": tuple(job_from(one) for one in given.get("queue", ())),
            }
        )
    except TypeError as error:
        raise ValueError(f"it is not a snapshot ({error})") from None


def _object(value: Any, what: str) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise ValueError(f"{what} is missing")
    return value


def _known(shape: type, given: Mapping[str, Any]) -> dict[str, Any]:
    names = {item.name for item in fields(shape)}
    return {name: value for name, value in given.items() if name in names}
