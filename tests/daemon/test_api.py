"""Every route does what its name says, over the socket and over loopback; errors are one sentence."""

from __future__ import annotations

import contextlib
import http.client
import json
import socket
import threading
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.clock import real_now_s
from benchd.daemon.http.exchange import AT_MOST_EVERY_S
from benchd.daemon.http.shapes import submission_from
from benchd.daemon.http.wire_json import encode
from benchd.daemon.job_control import Snapshot, Submission
from tests.daemon.conftest import House
from tests.daemon.fake_desk import PLAN, fill
from tests.imports import loaded_with
from tests.polling import comes_true

NIGHT = {"plan_name": "night.yaml", "plan_text": PLAN, "sample": "plover-27/1", "priority": 3}


def test_status_is_the_snapshot_without_the_plans(house: House) -> None:
    fill(house.desk)
    reply = house.ask("GET", "/v1/status")
    assert (reply.status, reply.headers["content-type"]) == (200, "application/json")
    found = reply.json
    assert set(found) == set(Snapshot.__dataclass_fields__)
    assert found["simulated"] is True
    assert found["job"]["id"] == "j3"
    assert found["readings"][-1]["number"] == 150
    assert PLAN not in reply.body.decode()


def test_a_submission_is_a_job_with_its_plan(house: House) -> None:
    files = {"night-lattice.csv": "name,code\nä,12\n"}
    reply = house.ask("POST", "/v1/jobs", NIGHT | {"files": files})
    assert reply.status == 201
    assert reply.headers["location"] == "/v1/jobs/j1"
    assert reply.json["state"] == "queued"
    whole = house.ask("GET", "/v1/jobs/j1").json
    assert whole["submission"] == {
        **NIGHT, "files": files, "note": "", "not_before": "", "attended": False,
        "conditions": {},
    }  # fmt: skip
    assert [job["id"] for job in house.ask("GET", "/v1/jobs").json] == ["j1"]


def test_the_acts_reach_the_desk(house: House) -> None:
    house.ask("POST", "/v1/jobs", NIGHT)
    assert house.ask("POST", "/v1/jobs/j1/pause").json["state"] == "paused"
    assert house.ask("POST", "/v1/jobs/j1/resume").json["state"] == "queued"
    assert house.ask("POST", "/v1/jobs/j1/cancel").json["state"] == "cancelled"
    house.desk.put(doing="waiting for the operator", place="r2c3")
    assert house.ask("POST", "/v1/next").json["doing"] == "running"
    assert house.ask("POST", "/v1/stop").json["doing"] == "stopping"
    assert house.desk.asked == ["submit night.yaml", "pause j1", "resume j1", "cancel j1", "next", "stop"]


def test_what_is_not_possible_is_said_in_one_sentence(house: House) -> None:
    house.ask("POST", "/v1/jobs", NIGHT)
    house.ask("POST", "/v1/jobs/j1/cancel")
    reply = house.ask("POST", "/v1/jobs/j1/resume")
    assert (reply.status, reply.json) == (409, {"error": "j1 is cancelled and can't resume", "faults": []})
    assert house.ask("POST", "/v1/next").status == 409
    for path in ("/v1/jobs/j9", "/v1/jobs/j1%2F..", "/v1/jobs/.."):
        reply = house.ask("GET", path)
        assert (reply.status, reply.json["faults"]) == (404, [])


def test_the_faults_of_a_plan_come_with_their_places(house: House) -> None:
    reply = house.ask("POST", "/v1/jobs", NIGHT | {"plan_text": "plan: x\nsetle_s: 1\n"})
    assert reply.status == 400
    assert reply.json == {
        "error": "the plan has 1 fault; nothing was queued",
        "faults": [{"file": "night.yaml", "line": 2, "column": 1, "text": "unknown key 'setle_s'"}],
    }
    reply = house.ask("POST", "/v1/jobs", NIGHT | {"not_before": "2026-02-30T18:00:00Z"})
    assert (reply.status, reply.json["error"]) == (400, "there is no 30th of February; name another day")


def test_a_fault_of_our_own_shows_no_insides(house: House, caplog: pytest.LogCaptureFixture) -> None:
    house.desk.breaks = "/home/someone/secret"
    reply = house.ask("POST", "/v1/jobs", NIGHT)
    assert reply.status == 500
    assert "KeyError" in reply.json["error"]
    assert "secret" not in reply.body.decode()
    assert "secret" in caplog.text, "the service's own log has all of it"
    assert house.ask("GET", "/v1/status").status == 200


REFUSED: dict[str, Any] = {
    "not json": b"{",
    "not utf-8": b'{"plan_name": "\xff"}',
    "utf-16": json.dumps(NIGHT).encode("utf-16"),
    "no object": [],
    "no number": b'{"plan_name": "a", "plan_text": "b", "priority": NaN}',
    "infinite": b'{"plan_name": "a", "plan_text": "b", "priority": 1e999}',
    "long number": b'{"plan_name": "a", "plan_text": "b", "priority": ' + b"9" * 6000 + b"}",
    "twice": b'{"plan_name": "a", "plan_name": "b", "plan_text": "c"}',
    "nested": b'{"plan_name": ' + b"[" * 200_000 + b"]" * 200_000 + b"}",
    "nested open": b"[" * 500_000,
    "unknown key": NIGHT | {"plan": "x"},
    "missing": {"plan_name": "a"},
    "number for text": NIGHT | {"sample": 1},
    "text for number": NIGHT | {"priority": "1"},
    "true for number": NIGHT | {"priority": True},
    "half": NIGHT | {"priority": 0.5},
    "too high": NIGHT | {"priority": 1001},
    "null": NIGHT | {"note": None},
    "one for true": NIGHT | {"attended": 1},
    "files as a list": NIGHT | {"files": ["a"]},
    "file that is no text": NIGHT | {"files": {"a": 1}},
    "too many files": NIGHT | {"files": {f"f{n}": "" for n in range(101)}},
    "surrogate": b'{"plan_name": "a", "plan_text": "\\ud800"}',
    "two lines": NIGHT | {"note": "a\nb"},
    "escape sign": NIGHT | {"note": "\x1b[2J"},
    "yesterday": NIGHT | {"not_before": "yesterday"},
    "no offset": NIGHT | {"not_before": "2026-03-02T18:00:00"},
    "long plan": NIGHT | {"plan_text": "x" * (1024 * 1024 + 1)},
    "empty plan name": NIGHT | {"plan_name": ""},
}
PATHS = ("..", "../x", "/etc/passwd", "a/../b", "a//b", "a/", "./a", ".a", "a/.b", "a\\..\\b", "a\0b", "a\n", "")


@pytest.mark.parametrize("name", sorted(REFUSED))
def test_a_malformed_submission_is_refused(house: House, name: str) -> None:
    reply = house.ask("POST", "/v1/jobs", REFUSED[name])
    assert reply.status == 400, reply.body
    [sentence] = reply.json["error"].splitlines()
    assert 10 < len(sentence) < 300
    assert house.desk.asked == []


@pytest.mark.parametrize("path", PATHS)
def test_no_name_leads_anywhere(house: House, path: str) -> None:
    named = [{"sample": path}] if path else []  # no name at all is a sample that nobody named
    for changed in (*named, {"plan_name": path}, {"files": {path: "x"}}):
        assert house.ask("POST", "/v1/jobs", NIGHT | changed).status == 400, changed
    assert house.desk.asked == []


text = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=20)
segment = text.filter(lambda name: name and name[0] != "." and not set("/\\") & set(name))


@settings(derandomize=True, max_examples=60, deadline=None)
@given(
    st.builds(
        Submission,
        plan_name=segment,
        plan_text=st.text(st.characters(exclude_categories=["Cs"]), min_size=1),
        files=st.dictionaries(segment, text, max_size=3),
        sample=st.lists(segment, max_size=3).map("/".join),
        note=text,
        not_before=st.sampled_from(["", "2026-03-02T18:00Z", "2026-03-02T18:00:00.5+01:00"]),
        priority=st.integers(-1000, 1000),
        attended=st.booleans(),
    )
)
def test_a_submission_survives_the_journey(submission: Submission) -> None:
    assert submission_from(encode(submission)) == submission


def events(connection: socket.socket, count: int) -> Iterator[tuple[int, dict[str, Any]]]:
    """The number and the snapshot of the next ``count`` events."""
    lines = connection.makefile("r", encoding="utf-8", newline="\n")
    number = -1
    for line in lines:
        if line.startswith("id: "):
            number = int(line[4:])
        if line.startswith("data: "):
            yield number, json.loads(line[6:])
            count -= 1
        if not count:
            return


def follow(house: House, last: str = "") -> socket.socket:
    connection = house.unix()
    last_id = f"Last-Event-ID: {last}\r\n" if last else ""
    connection.sendall(f"GET /v1/events HTTP/1.1\r\nHost: benchd\r\n{last_id}\r\n".encode())
    return connection


def test_events_bring_each_new_snapshot(house: House) -> None:
    with follow(house) as connection:
        stream = events(connection, 3)
        assert next(stream)[1]["doing"] == "idle"
        for doing in ("opening the bench", "running"):
            house.desk.put(doing=doing)
            number, snapshot = next(stream)
            assert snapshot["doing"] == doing
            assert number == snapshot["number"] == house.desk.snapshot().number


def test_what_was_seen_is_not_sent_again(house: House) -> None:
    number = house.desk.put(doing="running").number
    with follow(house, str(number)) as connection:
        house.desk.put(doing="pausing")
        assert next(events(connection, 1)) [1]["doing"] == "pausing"  # fmt: skip
    for last in (str(number + 500), "0", "x", "9" * 40, "-1"):
        # A number of an earlier life of the service, or no number of ours: the present is news.
        with follow(house, last) as connection:
            assert next(events(connection, 1))[1]["doing"] == "pausing"


def test_a_restart_of_the_numbers_is_news(house: House) -> None:
    house.desk.put()
    with follow(house) as connection:
        stream = events(connection, 2)
        assert next(stream)[0] == 2
        house.desk.restart()
        assert next(stream)[0] == 1


def test_a_fast_bench_does_not_flood_its_watchers(house: House) -> None:
    with follow(house) as connection:
        stream = events(connection, 2001)
        next(stream)
        began_s = real_now_s()
        for step in range(2000):
            last = house.desk.put(share_done=step / 2000).number
        seen: list[int] = []
        while last not in seen:
            seen.append(next(stream)[0])
        # At most so many in the time that the bench took, and the one at its end.
        assert len(seen) <= (real_now_s() - began_s) / AT_MOST_EVERY_S + 2
        assert seen == sorted(set(seen))


def test_many_at_once(house: House) -> None:
    """Twenty clients, each with its own connection kept open, see every act of one another."""
    wrong: list[object] = []

    def client(name: int) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", house.port, timeout=60)
        headers = {"Authorization": f"Bearer {house.token}"}
        for _ in range(5):
            body = json.dumps(NIGHT | {"plan_name": f"p{name}"})
            connection.request("POST", "/v1/jobs", body, headers | {"Content-Type": "application/json"})
            made = json.loads(connection.getresponse().read())
            connection.request("GET", f"/v1/jobs/{made['id']}", headers=headers)
            found = json.loads(connection.getresponse().read())
            if found.get("submission", {}).get("plan_name") != f"p{name}":
                wrong.append((name, made, found))
        connection.close()

    house.desk.put()
    threads = [threading.Thread(target=client, args=(name,)) for name in range(10)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []
    assert len(house.desk.asked) == 50


def test_the_end_of_the_service_ends_every_connection(house: House) -> None:
    with follow(house) as stream, house.unix() as idle:
        next(events(stream, 1))
        house.servers.close()
        assert stream.recv(65536) in (b"", b": benchd\n")
        with contextlib.suppress(ConnectionResetError):  # as good an end
            assert idle.recv(10) == b""
    assert not house.servers.socket_path.exists()
    threads = threading.enumerate
    assert comes_true(lambda: not any(one.name.startswith("benchd-") for one in threads())), "a thread goes on"


def test_the_imports_are_light() -> None:
    heavy = {"pydantic", "numpy", "yaml", "serial", "pyglet", "http.server"}
    heavy |= {"benchd.instruments.meter", "benchd.run.log.journal"}
    assert not heavy & loaded_with("benchd.daemon.http.doors")
