"""Who is let in: the owner over the socket, whoever has the token over loopback, no web site but our page."""

from __future__ import annotations

import os
import re
import socket
import stat
import subprocess
import sys
import threading
from contextlib import ExitStack
from pathlib import Path

import pytest

from benchd.daemon.http import doors as api
from benchd.daemon.http.auth import OwnerAccess, load_token
from benchd.daemon.http.doors import start_servers
from benchd.daemon.http.exchange import Latest, Subscribers
from benchd.daemon.http.http_read import Patience
from benchd.daemon.http.listener import Listener
from benchd.daemon.job_control import NotPossible
from tests.daemon.conftest import House, everything
from tests.daemon.fake_desk import FakeDesk

GET = b"GET /v1/status HTTP/1.1\r\nHost: benchd\r\nConnection: close\r\n\r\n"


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_the_socket_is_its_owners(house: House) -> None:
    assert mode(house.servers.socket_path) == 0o600
    assert mode(house.servers.socket_path.parent) == 0o700
    assert house.raw(GET).startswith(b"HTTP/1.1 200 OK\r\n")


def test_another_user_is_refused_by_what_the_kernel_says(tmp_path: Path) -> None:
    """The file's mode keeps others out; were it wrong, the peer's user still would."""
    path = tmp_path / "open.sock"
    listening = socket.socket(socket.AF_UNIX)
    listening.bind(str(path))
    listening.listen()
    latest = Latest(FakeDesk())
    listener = Listener(listening, OwnerAccess(os.getuid() + 1), latest, Subscribers(1), Patience())
    listener.start()
    try:
        with socket.socket(socket.AF_UNIX) as connection:
            connection.settimeout(60)
            connection.connect(str(path))
            connection.sendall(GET)
            assert everything(connection).startswith(b"HTTP/1.1 403 ")
    finally:
        listener.close()


def test_a_browser_does_not_come_through_the_socket(house: House) -> None:
    for line in (b"Origin: http://evil.example", b"Sec-Fetch-Site: cross-site"):
        assert house.raw(GET.replace(b"Connection", line + b"\r\nConnection")).startswith(b"HTTP/1.1 403 ")


@pytest.mark.parametrize(
    "given", ["", "Bearer", "Bearer x", "Basic YTpi", "Bearer " + "A" * 43, "Bearer " + "A" * 5000]
)
def test_without_the_token_nothing_is_told(house: House, given: str) -> None:
    for method, path in (("GET", "/v1/status"), ("POST", "/v1/stop"), ("GET", "/v1/nothing"), ("PUT", "/v1/jobs")):
        reply = house.ask(method, path, authorization=given)
        assert reply.status == 401
        assert reply.headers["www-authenticate"].startswith("Bearer")
    assert house.desk.asked == []


def test_the_page_itself_needs_no_token_and_has_no_secret(house: House) -> None:
    for path in ("/", "/page.js", "/page.css", "/show.js", "/draw.js", "/link.js", "/icon.svg"):
        reply = house.ask("GET", path, authorization="")
        assert reply.status == 200
        assert house.token.encode() not in reply.body
        assert b"lab-2" not in reply.body
    assert house.servers.page_link == f"http://127.0.0.1:{house.port}/#{house.token}"


FOREIGN_HOSTS = [
    "evil.example",
    "evil.example:{port}",
    "127.0.0.1",
    "127.0.0.1:1",
    "[::1]:{port}",
    "localhost.evil.example:{port}",
    "127.0.0.1:{port}@evil",
]


@pytest.mark.parametrize("host", FOREIGN_HOSTS)
def test_a_foreign_host_is_refused(house: House, host: str) -> None:
    """DNS rebinding: a foreign name that leads to 127.0.0.1 brings its own name along."""
    for path in ("/", "/v1/status"):
        assert house.ask("GET", path, host=host.format(port=house.port)).status == 403
    assert house.ask("GET", "/v1/status", host=f"localhost:{house.port}").status == 200


FOREIGN_ORIGINS = [
    "http://evil.example",
    "null",
    "https://127.0.0.1:{port}",
    "http://127.0.0.1",
    "http://127.0.0.1:1",
    "http://localhost:{port}",
]


@pytest.mark.parametrize("origin", FOREIGN_ORIGINS)
def test_a_foreign_origin_is_refused(house: House, origin: str) -> None:
    reply = house.ask("POST", "/v1/stop", origin=origin.format(port=house.port))
    assert (reply.status, house.desk.asked) == (403, [])


def test_our_own_origin_is_taken(house: House) -> None:
    own = f"http://127.0.0.1:{house.port}"
    assert house.ask("POST", "/v1/stop", origin=own, sec_fetch_site="same-origin").status == 200


@pytest.mark.parametrize("site", ["cross-site", "same-site", "anything"])
def test_a_request_that_another_site_caused_is_refused(house: House, site: str) -> None:
    """Fetch metadata (W3C): another port of this machine is `same-site`, and just as foreign."""
    for method, path in (("GET", "/"), ("GET", "/v1/status"), ("POST", "/v1/next")):
        assert house.ask(method, path, sec_fetch_site=site).status == 403
    assert house.ask("POST", "/v1/next", sec_fetch_site="none").status == 403
    assert house.ask("GET", "/", sec_fetch_site="none").status == 200
    assert house.desk.asked == []


def test_every_answer_forbids_what_the_page_does_not_need(house: House) -> None:
    for path, auth in (("/", ""), ("/page.js", ""), ("/v1/status", f"Bearer {house.token}"), ("/v1/status", "")):
        headers = house.ask("GET", path, authorization=auth).headers
        policy = headers["content-security-policy"]
        assert policy.startswith("default-src 'none'; ")
        assert "unsafe" not in policy
        assert "*" not in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] == "no-store"
        assert headers["referrer-policy"] == "no-referrer"
        assert "access-control-allow-origin" not in headers
        assert "set-cookie" not in headers
        assert "server" not in headers


def test_the_token_is_made_once_and_is_private(tmp_path: Path) -> None:
    path = tmp_path / "state" / "token"
    token = load_token(path)
    assert re.fullmatch("[A-Za-z0-9_-]{43}", token), "256 bits"
    assert mode(path) == 0o600
    assert load_token(path) == token
    assert load_token(tmp_path / "other") != token


def test_a_token_that_others_can_read_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "token"
    load_token(path)
    path.chmod(0o640)
    with pytest.raises(NotPossible, match="must be yours alone"):
        load_token(path)
    path.chmod(0o600)
    path.write_text("short\n")
    with pytest.raises(NotPossible, match="holds no token"):
        load_token(path)
    link = tmp_path / "link"
    link.symlink_to(tmp_path / "elsewhere")
    with pytest.raises(NotPossible, match="can't be read"):
        load_token(link)
    with pytest.raises(NotPossible, match=r"can't be (read|written)"):
        load_token(path / "under-a-file")


def test_the_socket_of_a_killed_service_is_replaced(tmp_path: Path) -> None:
    path = tmp_path / "run" / "lab-2.sock"
    code = (
        "import os, sys; from pathlib import Path; from benchd.daemon.http.doors import start_servers; "
        "from tests.daemon.fake_desk import FakeDesk; "
        "start_servers(FakeDesk(), Path(sys.argv[1]), None, Path('none')); print('up', flush=True); "
        "os.kill(os.getpid(), 9)"
    )
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], cwd=root, capture_output=True, text=True, check=False
    )
    assert done.stdout == "up\n", done.stderr
    assert path.is_socket(), "nobody was left to remove it"
    with start_servers(FakeDesk(), path, None, tmp_path / "token") as servers:
        assert servers.http_url == ""
        with socket.socket(socket.AF_UNIX) as connection:
            connection.settimeout(60)
            connection.connect(str(path))
            connection.sendall(GET)
            assert everything(connection).startswith(b"HTTP/1.1 200 ")
    assert not (tmp_path / "token").exists(), "no port, no token"


def test_two_services_do_not_share_a_socket(house: House, tmp_path: Path) -> None:
    with pytest.raises(NotPossible, match="another service answers on"):
        start_servers(FakeDesk(), house.servers.socket_path, None, tmp_path / "token")
    assert house.raw(GET).startswith(b"HTTP/1.1 200 ")


def test_many_starts_at_once_make_one_service(tmp_path: Path) -> None:
    path = tmp_path / "run" / "lab-2.sock"
    (path.parent).mkdir(mode=0o700)
    gate = threading.Barrier(8)
    made: list[api.Servers] = []
    refused: list[str] = []

    def start() -> None:
        gate.wait()
        try:
            made.append(start_servers(FakeDesk(), path, None, tmp_path / "token"))
        except NotPossible as error:
            refused.append(str(error))

    threads = [threading.Thread(target=start) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (len(made), len(refused)) == (1, 7)
    made[0].close()


def test_what_can_not_be_opened_is_said_in_one_sentence(house: House, tmp_path: Path) -> None:
    desk, token = FakeDesk(), tmp_path / "t"
    with pytest.raises(NotPossible, match="another program uses it"):
        start_servers(desk, tmp_path / "r" / "a.sock", house.port, token)
    assert not (tmp_path / "r" / "a.sock").exists(), "half open is not left behind"
    for port in (70_000, -1):
        with pytest.raises(NotPossible, match="can't be opened"):
            start_servers(desk, tmp_path / "r" / "a.sock", port, token)
    with pytest.raises(NotPossible, match=r"too long .* with --socket"):
        start_servers(desk, tmp_path / ("x" * 120), None, token)
    shared = tmp_path / "shared"
    shared.mkdir()
    shared.chmod(0o755)
    with pytest.raises(NotPossible, match="yours alone"):
        start_servers(desk, shared / "a.sock", None, token)
    private = tmp_path / "r"
    (private / "file.sock").write_text("precious")
    with pytest.raises(NotPossible, match="is no socket"):
        start_servers(desk, private / "file.sock", None, token)
    assert (private / "file.sock").read_text() == "precious"


def test_only_this_machine_is_listened_to(house: House) -> None:
    with ExitStack() as opened:
        loopback = opened.enter_context(api._loopback_socket(0))
        assert loopback.getsockname()[0] == "127.0.0.1"
        assert not loopback.get_inheritable(), "a child process must not hold the port"
