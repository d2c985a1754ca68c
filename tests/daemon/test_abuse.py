"""What no honest client sends: each is refused in bounded time, and never keeps another client waiting."""

from __future__ import annotations

import contextlib
import socket
import struct
import threading
import time
from collections.abc import Callable
from itertools import chain, repeat
from pathlib import Path
from typing import Any, cast

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.daemon.http.http_read import HEAD_BYTES, Head, Patience, RequestRefused, parse_head
from benchd.daemon.http.wire_json import BODY_BYTES
from tests.daemon.conftest import PATIENT, WITHIN_S, House, everything, open_house
from tests.polling import comes_true

OpenHouse = Callable[..., House]

HOST = b"Host: benchd\r\n"
JSON = b"Content-Type: application/json\r\n"

SMUGGLED = {
    "two lengths": b"Content-Length: 2\r\nContent-Length: 2\r\n",
    "two different lengths": b"Content-Length: 0\r\nContent-Length: 30\r\n",
    "length list": b"Content-Length: 2, 2\r\n",
    "negative length": b"Content-Length: -1\r\n",
    "signed length": b"Content-Length: +2\r\n",
    "hex length": b"Content-Length: 0x2\r\n",
    "length of other digits": "Content-Length: ²\r\n".encode(),
    "endless length": b"Content-Length: " + b"9" * 40 + b"\r\n",
    "chunks": b"Transfer-Encoding: chunked\r\n",
    "chunks and length": b"Content-Length: 2\r\nTransfer-Encoding: chunked\r\n",
    "hidden chunks": b"Transfer-Encoding: identity, \x0bchunked\r\n",
    "blank before colon": b"Content-Length : 2\r\n",
    "folded": b"X-A: 1\r\n Content-Length: 2\r\n",
    "bare line feed": b"X-A: 1\nContent-Length: 2\r\n",
    "bare return": b"X-A: 1\rContent-Length: 2\r\n",
    "nul": b"X-A: a\0b\r\n",
    "no name": b": x\r\n",
    "no colon": b"Nothing\r\n",
    "two hosts": b"Host: other\r\n",
}


@pytest.mark.parametrize("name", sorted(SMUGGLED))
def test_what_two_programs_could_read_differently_is_refused(house: House, name: str) -> None:
    second = b"GET /v1/status HTTP/1.1\r\n" + HOST + b"\r\n"
    answer = house.raw(b"POST /v1/jobs HTTP/1.1\r\n" + HOST + JSON + SMUGGLED[name] + b"\r\n{}" + second)
    assert answer.startswith(b"HTTP/1.1 400 "), answer
    assert answer.count(b"HTTP/1.1 ") == 1, "what follows is not taken for another request"
    assert b"Connection: close\r\n" in answer


FIRST_LINES = [
    b"",
    b"GET",
    b"GET /v1/status",
    b"GET  /v1/status HTTP/1.1",
    b"GET /v1/status HTTP/1.1 ",
    b"GET /v1/status HTTP/2.0",
    b"GET /v1/status HTTP/0.9",
    b"GET http://benchd/v1/status HTTP/1.1",
    b"GET v1/status HTTP/1.1",
    b"CONNECT benchd:443 HTTP/1.1",
    b"OPTIONS * HTTP/1.1",
    b"GET /v1/st\xe4tus HTTP/1.1",
    b"G\x00T / HTTP/1.1",
    b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",  # a TLS greeting
]


@pytest.mark.parametrize("line", FIRST_LINES)
def test_a_first_line_that_is_no_request_is_refused(house: House, line: bytes) -> None:
    assert house.raw(line + b"\r\n" + HOST + b"\r\n").startswith(b"HTTP/1.1 400 ")


def test_a_request_without_host_is_refused(house: House) -> None:
    assert house.raw(b"GET /v1/status HTTP/1.1\r\n\r\n").startswith(b"HTTP/1.1 400 ")


@settings(derandomize=True, max_examples=300, deadline=None)
@given(st.text(st.characters(max_codepoint=255)) | st.text("GET /:\r\n \tHost1.0HTP-CL", max_size=60))
def test_any_head_is_read_or_refused(text: str) -> None:
    found: Head | None = None
    with contextlib.suppress(RequestRefused):
        found = parse_head(text)
    assert found is None or found.target.startswith("/")


TRAVERSAL = [
    "/../etc/passwd", "/..%2f..%2fetc/passwd", "/%2e%2e/page.js", "//etc/passwd", "/page.js/..", "/./page.js",
    "/page/../page.js", "/page.js%00", "/index.html", "/__init__.py", "/page/page.js", "/v1/../v1/status",
    "/v1/jobs/../status", "/v1//status", "/V1/status", "/v1/status/", "/v1/jobs/j1/pause/..", "/\\..\\page.js",
]  # fmt: skip


@pytest.mark.parametrize("path", TRAVERSAL)
def test_no_address_leads_to_a_file(house: House, path: str) -> None:
    answer = house.raw(f"GET {path} HTTP/1.1\r\n".encode() + HOST + b"Connection: close\r\n\r\n")
    assert answer.startswith(b"HTTP/1.1 404 ")
    assert b"root:" not in answer


def test_an_address_takes_no_query(house: House) -> None:
    assert house.ask("GET", "/v1/status?x=1").status == 400
    assert house.ask("GET", "/?token=x").status == 400


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "HEAD", "OPTIONS", "TRACE", "get", "FOO"])
def test_another_method_is_refused_and_the_right_one_named(house: House, method: str) -> None:
    answer = house.ask(method, "/v1/jobs")
    assert (answer.status, answer.headers["allow"]) == (405, "GET, POST")
    assert house.ask(method, "/v1/jobs/j1/pause").headers["allow"] == "POST"


KINDS = [
    "",
    "text/plain",
    "application/x-www-form-urlencoded",
    "multipart/form-data",
    "application/jsonp",
    "application/json; charset=latin-1",
    "application/json, text/plain",
]


@pytest.mark.parametrize("kind", KINDS)
def test_another_type_of_body_is_refused(house: House, kind: str) -> None:
    """A form of another web site can send those without asking first."""
    assert house.ask("POST", "/v1/jobs", b'{"plan_name":"a","plan_text":"b"}', content_type=kind).status == 415
    assert house.desk.asked == []


def test_a_body_where_none_belongs_is_refused(house: House) -> None:
    assert house.ask("POST", "/v1/stop", b"{}").status == 400
    assert house.ask("GET", "/v1/status", b"{}").status == 400
    assert house.desk.asked == []


def test_an_oversized_body_is_refused_before_it_is_read(house: House) -> None:
    for length in (BODY_BYTES + 1, 9_999_999_999):
        head = b"POST /v1/jobs HTTP/1.1\r\n" + HOST + JSON + f"Content-Length: {length}\r\n\r\n".encode()
        with house.unix() as connection:
            connection.sendall(head)
            assert connection.recv(65536).startswith(b"HTTP/1.1 413 "), "without waiting for the body"
    # Who sends it all the same still gets to read the answer.
    reply = house.ask("POST", "/v1/jobs", b"x" * (BODY_BYTES + 1))
    assert reply.status == 413


def test_the_largest_body_is_taken(house: House) -> None:
    files = {f"f{n}": "x" * (BODY_BYTES // 100 - 100) for n in range(100)}
    assert house.ask("POST", "/v1/jobs", {"plan_name": "a", "plan_text": "b", "files": files}).status == 201


def test_a_client_may_ask_before_it_sends(house: House) -> None:
    body = b'{"plan_name":"a","plan_text":"b"}'
    with house.unix() as connection:
        head = b"POST /v1/jobs HTTP/1.1\r\n" + HOST + JSON + b"Expect: 100-continue\r\nConnection: close\r\n"
        connection.sendall(head + f"Content-Length: {len(body)}\r\n\r\n".encode())
        assert connection.recv(100) == b"HTTP/1.1 100 Continue\r\n\r\n"
        connection.sendall(body)
        assert everything(connection).startswith(b"HTTP/1.1 201 ")


def test_an_oversized_head_is_refused(house: House) -> None:
    for extra in (b"X-A: " + b"a" * (HEAD_BYTES + 1) + b"\r\n", b"X-A: a\r\n" * 100):
        assert house.raw(b"GET /v1/status HTTP/1.1\r\n" + HOST + extra + b"\r\n").startswith(b"HTTP/1.1 431 ")
    endless = house.raw(b"A" * 200_000)
    assert endless.startswith(b"HTTP/1.1 4")


def serving() -> bool:
    """Whether a client is being served."""
    return any(thread.name == "benchd-api" for thread in threading.enumerate())


def drip(connection: socket.socket, data: bytes, every_s: float) -> bytes:
    """Send a byte now and then until the other side has enough; what it answered."""
    try:
        for byte in data:
            connection.sendall(bytes([byte]))
            time.sleep(every_s)
    except OSError:
        pass
    return everything(connection)


class ShortOnceBegun:
    """Much time for the first byte of a head and little for all of it, whenever this machine gets to send it."""

    def __init__(self, head_s: float) -> None:
        self._waits_s = chain([WITHIN_S], repeat(head_s))

    @property
    def head_s(self) -> float:
        return next(self._waits_s)

    def __getattr__(self, name: str) -> Any:
        return getattr(PATIENT, name)


def test_a_slow_head_is_cut_off(tmp_path: Path) -> None:
    with open_house(tmp_path, cast(Patience, ShortOnceBegun(0.4))) as house, house.unix() as connection:
        started = time.monotonic()
        answer = drip(connection, b"GET /v1/status HTTP/1.1\r\n" * 20, 0.1)
        assert answer.startswith(b"HTTP/1.1 408 ")
        assert time.monotonic() - started < 30.0, "a byte now and then buys no time: all of them take 50 s"


def test_a_slow_body_is_cut_off(house_with: OpenHouse) -> None:
    with house_with(body_s=0.5).unix() as connection:
        connection.sendall(b"POST /v1/jobs HTTP/1.1\r\n" + HOST + JSON + b"Content-Length: 1000\r\n\r\n")
        started = time.monotonic()
        answer = drip(connection, b" " * 500, 0.1)
        assert answer.startswith(b"HTTP/1.1 408 ")
        assert time.monotonic() - started < 30.0


def test_a_silent_client_is_hung_up_on(house_with: OpenHouse) -> None:
    with house_with(head_s=0.4).unix() as connection:
        assert everything(connection) == b""


def test_a_client_that_falls_silent_is_hung_up_on(house_with: OpenHouse) -> None:
    with house_with(idle_s=0.4).unix() as connection:
        connection.sendall(b"GET /v1/status HTTP/1.1\r\n" + HOST + b"\r\n")
        assert everything(connection).startswith(b"HTTP/1.1 200 ")


def test_slow_clients_keep_nobody_waiting(house: House) -> None:
    """Thirty who send half a request and stop; and thirty on the other door."""
    crowd = [house.unix() for _ in range(30)] + [house.tcp() for _ in range(30)]
    try:
        for connection in crowd:
            connection.sendall(b"POST /v1/jobs HTTP/1.1\r\nHost: ")
        for _ in range(20):
            started = time.monotonic()
            assert house.ask("GET", "/v1/status").status == 200
            assert time.monotonic() - started < WITHIN_S / 2, "nobody waited for a client's time to run out"
    finally:
        for connection in crowd:
            connection.close()


def test_too_many_connections_are_told_so_and_the_other_door_stays_open(house_with: OpenHouse) -> None:
    house = house_with(connections=12)
    crowd = [house.tcp() for _ in range(12)]
    try:
        with house.tcp() as one_more:  # they are let in in the order in which they came
            assert everything(one_more).startswith(b"HTTP/1.1 503")
        assert house.raw(b"GET /v1/status HTTP/1.1\r\n" + HOST + b"Connection: close\r\n\r\n").startswith(
            b"HTTP/1.1 200"
        )
    finally:
        for connection in crowd:
            connection.close()
    assert comes_true(lambda: house.ask("GET", "/v1/status").status == 200), "places are free again"


def test_event_streams_are_counted_and_places_come_back(house_with: OpenHouse) -> None:
    house = house_with(subscribers=3)
    ask = b"GET /v1/events HTTP/1.1\r\n" + HOST + b"Connection: close\r\n\r\n"
    streams = [house.unix() for _ in range(3)]
    for connection in streams:
        connection.sendall(ask)
        assert connection.recv(15) == b"HTTP/1.1 200 OK"
    assert house.raw(ask).startswith(b"HTTP/1.1 429 ")
    reply = house.ask("GET", "/v1/events")
    assert (reply.status, reply.headers["retry-after"]) == (429, "10")
    for connection in streams:
        connection.close()

    def let_in() -> bool:  # a stream looks twice a second whether its client is there
        with house.unix() as connection:
            connection.sendall(ask)
            return connection.recv(15) == b"HTTP/1.1 200 OK"

    assert comes_true(let_in)


def test_a_quiet_stream_says_that_it_is_alive(house_with: OpenHouse) -> None:
    with house_with(silence_s=0.3).unix() as connection:
        started = time.monotonic()
        connection.sendall(b"GET /v1/events HTTP/1.1\r\n" + HOST + b"\r\n")
        got = b""
        while got.count(b": still here\n\n") < 3:
            got += connection.recv(65536)
        assert time.monotonic() - started >= 3 * 0.3
        assert got.count(b"event: snapshot") == 1


def test_a_subscriber_that_reads_nothing_is_dropped(house_with: OpenHouse) -> None:
    """It keeps its place until its buffers are full and an event is not taken in time; others see everything."""
    house = house_with(send_s=0.5)
    with house.tcp() as lazy:
        lazy.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
        head = f"GET /v1/events HTTP/1.1\r\nHost: 127.0.0.1:{house.port}\r\nAuthorization: Bearer {house.token}\r\n\r\n"
        lazy.sendall(head.encode())
        assert lazy.recv(15) == b"HTTP/1.1 200 OK"

        def dropped() -> bool:
            house.desk.put(what="x" * 900_000)
            return not serving()

        assert comes_true(dropped)


def test_a_client_that_resets_leaves_nothing_behind(house: House) -> None:
    for _ in range(50):
        connection = house.tcp()
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        connection.sendall(b"GET /v1/events HTTP/1.1\r\nHost: x\r\n")
        connection.close()  # a reset
    assert comes_true(lambda: not serving())
    assert house.ask("GET", "/v1/status").status == 200


def test_pipelined_requests_are_answered_in_order(house: House) -> None:
    one = b"GET /v1/jobs HTTP/1.1\r\n" + HOST + b"\r\n"
    last = b"GET /v1/nothing HTTP/1.1\r\n" + HOST + b"Connection: close\r\n\r\n"
    answer = house.raw(one * 3 + last)
    assert [part[:3] for part in answer.split(b"HTTP/1.1 ")[1:]] == [b"200", b"200", b"200", b"404"]
