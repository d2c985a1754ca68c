"""The description of the interface (OpenAPI 3.1), made from the table of routes and the dataclasses."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import cache

from benchd import __version__
from benchd.daemon.http.exchange import JSON, Route
from benchd.daemon.http.shapes import definitions, ref
from benchd.daemon.http.wire_json import JOB_ID, Json

FILE = "openapi.json"

ERRORS = {
    400: "The request is malformed, or a key or the plan in it is at fault; `faults` names the places",
    401: "The token is missing or wrong (loopback only)",
    403: "A request of another web site, under a foreign Host, or of another user",
    404: "No such job or address",
    405: "The address does not allow this method; see `Allow`",
    408: "The request did not come in time",
    409: "Not possible now; the sentence gives the reason",
    413: "The body is too large",
    415: "The body is not JSON",
    429: "Too many event streams are open",
    431: "The head of the request is too large",
    500: "Internal error of the service; details are in its log",
    503: "Too many connections, or the service can't do it now",
}
"""Every error that can be answered. Any request may meet those of `_ANY`."""

_ANY = (400, 401, 403, 405, 408, 431, 500, 503)

_ABOUT = (
    "Every request goes over the service's Unix socket (its owner only, no token) or, when the service was started "
    "with a port, over HTTP on 127.0.0.1 with `Authorization: Bearer TOKEN`. Answers are JSON; an error is one "
    "sentence for the operator. Figures that a simulator took part in come from a bench whose `simulated` is true."
)


@cache
def text(routes: tuple[Route, ...]) -> str:
    """The description as JSON text."""
    return json.dumps(document(routes), ensure_ascii=False, indent=2) + "\n"


def document(routes: Sequence[Route]) -> Json:
    """The description as an OpenAPI 3.1 document."""
    paths: Json = {}
    for route in routes:
        if not route.public:
            paths.setdefault(route.path, {})[route.method.lower()] = _operation(route, routes)
    return {
        "openapi": "3.1.0",
        "info": {"title": "benchd control plane", "version": __version__, "description": _ABOUT},
        "security": [{"token": []}],
        "paths": paths,
        "components": {
            "schemas": definitions(),
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer", "description": "from the token file"}},
        },
    }


def _operation(route: Route, routes: Sequence[Route]) -> Json:
    parameters: list[Json] = []
    if "{id}" in route.path:
        parameters.append(
            {"name": "id", "in": "path", "required": True, "schema": {"type": "string", "pattern": JOB_ID}}
        )
    if route.streams:
        about = "number of the snapshot that was seen last; it is not sent again"
        parameters.append(
            {"name": "Last-Event-ID", "in": "header", "required": False, "description": about,
             "schema": {"type": "string", "pattern": "^[0-9]{1,18}$"}}
        )  # fmt: skip
    operation: Json = {"operationId": route.name, "summary": route.summary}
    if parameters:
        operation["parameters"] = parameters
    if route.takes:
        operation["requestBody"] = {"required": True, "content": {JSON: {"schema": ref(route.takes)}}}
    operation["responses"] = {str(route.status): _success(route, routes)} | {
        str(code): {"description": ERRORS[code], "content": {JSON: {"schema": ref("Refusal")}}}
        for code in sorted({*_ANY, *route.errors})
    }
    return operation


def _success(route: Route, routes: Sequence[Route]) -> Json:
    if route.streams:
        about = "Events `snapshot`: `id` is the snapshot's number, `data` a Snapshot as JSON; a comment keeps it alive"
        return {"description": about, "content": {"text/event-stream": {"schema": {"type": "string"}}}}
    schema = ref(route.gives) if route.gives else {"type": "object"}
    if route.gives_many:
        schema = {"type": "array", "items": schema}
    links = {"links": _links(routes)} if route.takes else {}
    return {"description": route.summary, "content": {JSON: {"schema": schema}}, **links}


def _links(routes: Sequence[Route]) -> Json:
    """Links to what can be requested for a job that was just submitted."""
    about = {"id": "$response.body#/id"}
    return {route.name: {"operationId": route.name, "parameters": about} for route in routes if "{id}" in route.path}
