"""All requests, as one table: the server answers by it and the description is made from it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from benchd.daemon import page
from benchd.daemon.http.exchange import JSON, Answer, Call, Route
from benchd.daemon.http.http_read import Head, RequestRefused
from benchd.daemon.http.wire_json import BODY_BYTES, encode
from benchd.daemon.job_control import Job, JobControl


def find(head: Head) -> tuple[Route, Mapping[str, str]]:
    """The route of a request and what stood in its path. Raises `RequestRefused` 404 or 405.

    The path is compared as it was sent: nothing is decoded, joined or looked up in a folder.
    """
    path = head.target.partition("?")[0]
    there = [(route, found) for route in ROUTES if (found := route.pattern.fullmatch(path))]
    for route, found in there:
        if route.method == head.method:
            return route, found.groupdict()
    if there:
        allowed = ", ".join(sorted({route.method for route, _ in there}))
        raise RequestRefused(405, f"only {allowed} is allowed here", headers={"Allow": allowed})
    raise RequestRefused(404, "there is nothing at this address; see /v1/openapi.json")


def check(route: Route, head: Head) -> None:
    """Refuse what can be refused before the body is read. Raises `RequestRefused` 400, 413 or 415."""
    if "?" in head.target:
        raise RequestRefused(400, "this address takes no query; leave out the '?' and what follows")
    if not route.takes:
        if head.length:
            raise RequestRefused(400, "this request takes no body; send it without one", close=True)
        return
    if head.length > BODY_BYTES:
        raise RequestRefused(413, f"the body has {head.length} bytes; at most {BODY_BYTES} are taken", close=True)
    kind = re.sub(r"\s", "", head.fields.get("content-type", "")).lower()
    if kind not in (JSON, f"{JSON};charset=utf-8", f'{JSON};charset="utf-8"'):
        raise RequestRefused(415, f"the body must be JSON, with 'Content-Type: {JSON}'", close=True)


def _status(call: Call) -> Answer:
    return Answer(200, call.latest.now())


def _submit(call: Call) -> Answer:
    from benchd.daemon.http.shapes import submission_from  # with pydantic, which only a submission needs

    job = call.latest.job_control.submit(submission_from(call.body))
    return Answer(201, encode(job, brief=True), headers={"Location": f"/v1/jobs/{job.id}"})


def _jobs(call: Call) -> Answer:
    return Answer(200, encode(_all(call.latest.job_control), brief=True))


def _job(call: Call) -> Answer:
    return Answer(200, encode(_known(call)))


def _of_job(act: Callable[[JobControl, str], Job]) -> Callable[[Call], Answer]:
    """Does ``act`` to the job that the path names; answers what it is now."""
    return lambda call: Answer(200, encode(act(call.latest.job_control, _known(call).id), brief=True))


def _told(act: Callable[[JobControl], None]) -> Callable[[Call], Answer]:
    """Does ``act``; answers what goes on then."""

    def handle(call: Call) -> Answer:
        act(call.latest.job_control)
        return _status(call)

    return handle


def _events(call: Call) -> Answer:
    return Answer(200, None, "text/event-stream; charset=utf-8")


def _description(call: Call) -> Answer:
    from benchd.daemon.http.openapi import text  # with pydantic, which only a description needs

    return Answer(200, text(ROUTES).encode())


def _all(job_control: JobControl) -> tuple[Job, ...]:
    snapshot = job_control.snapshot()
    return (*((snapshot.job,) if snapshot.job else ()), *snapshot.queue)


def _known(call: Call) -> Job:
    """The job that the path names. Raises `RequestRefused` 404."""
    for job in _all(call.latest.job_control):
        if job.id == call.params["id"]:
            return job
    raise RequestRefused(404, f"there is no job {call.params['id']!r}; `benchd jobs` (or /v1/jobs) lists them")


def _page_file(found: page.PageFile) -> Callable[[Call], Answer]:
    return lambda call: Answer(200, found.body, found.content_type)


_ACT = (404, 409)

ROUTES: tuple[Route, ...] = (
    Route("GET", "/v1/status", "status", "What is going on now", _status, gives="Snapshot"),
    Route(
        "POST", "/v1/jobs", "submit", "Check a plan and queue it; it is on disk before the answer", _submit,
        status=201, gives="JobBrief", takes="Submission", errors=(409, 413, 415),
    ),
    Route("GET", "/v1/jobs", "jobs", "All jobs: the running one, the queue, the past", _jobs,
          gives="JobBrief", gives_many=True),
    Route("GET", "/v1/jobs/{id}", "job", "One job with its plan and files", _job, gives="Job", errors=(404,)),
    Route("POST", "/v1/jobs/{id}/pause", "pause", "Finish the reading, show black and pause; hold a queued job",
          _of_job(lambda job_control, job: job_control.pause(job)), gives="JobBrief", errors=_ACT),
    Route("POST", "/v1/jobs/{id}/resume", "resume", "Put a paused job back into the queue",
          _of_job(lambda job_control, job: job_control.resume(job)), gives="JobBrief", errors=_ACT),
    Route("POST", "/v1/jobs/{id}/cancel", "cancel", "Take a job out of the queue, or end the running one",
          _of_job(lambda job_control, job: job_control.cancel(job)), gives="JobBrief", errors=_ACT),
    Route("POST", "/v1/next", "next", "The operator confirms the requested step",
          _told(lambda job_control: job_control.next_move()), gives="Snapshot", errors=(409,)),
    Route("POST", "/v1/again", "again", "It is set or moved only now: what was read since is read again",
          _told(lambda job_control: job_control.next_move("again")), gives="Snapshot", errors=(409,)),
    Route("POST", "/v1/skip", "skip", "The requested setting is not made: its point of the sweep is left out",
          _told(lambda job_control: job_control.next_move("skip")), gives="Snapshot", errors=(409,)),
    Route("POST", "/v1/stop", "stop", "Pause the running job and end the service; the queue is kept",
          _told(lambda job_control: job_control.stop()), gives="Snapshot", errors=(409,)),
    Route("GET", "/v1/events", "events", "The newest snapshot, whenever there is a newer one", _events,
          streams=True, errors=(429,)),
    Route("GET", "/v1/openapi.json", "openapi", "This description", _description),
    *(
        Route("GET", path, f"page {path}", "The page", _page_file(found), public=True)
        for path, found in page.FILES.items()
    ),
)  # fmt: skip
