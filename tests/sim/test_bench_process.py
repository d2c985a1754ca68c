"""The companion process: its socket, its window, its mover, its beginning and its end."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from benchd.clock import CompanionClock, Deadline, StopRequest
from benchd.patch.model import Patch, field, grey
from benchd.patch.window_screen import WindowScreen
from tests.imports import loaded_with
from tests.sim.companion import METERS, READ, ROOT, Companion, companion


def child(bench: Companion, module: str, *extra: str) -> list[str]:
    return [sys.executable, "-m", module, "--socket", str(bench.folder / "bench.sock"), *extra]


def converse(command: list[str], *messages: dict[str, Any]) -> list[dict[str, Any]]:
    """Send messages, close standard input, and return the answers."""
    sent = "".join(json.dumps(message) + "\n" for message in messages)
    done = subprocess.run(command, cwd=ROOT, input=sent, capture_output=True, text=True, timeout=120, check=True)
    assert done.stderr == ""
    return [json.loads(line) for line in done.stdout.splitlines()]


def test_it_says_ready_and_simulated(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line") as bench:
        assert bench.ready == {"ready": True, "simulated": True, "display": "office-lcd"}
        assert sorted(path.name for path in tmp_path.iterdir()) == [
            *("bench.sock", "bench.sock.now", "ddc.sock", "meter")
        ]


def test_time_is_told(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line") as bench:
        clock = CompanionClock(str(tmp_path / "bench.sock"))
        assert clock.now_s() == 0.0
        clock.sleep(12.5, StopRequest())
        assert clock.now_s() == 12.5
        assert bench.ask("now") == {"now_s": 12.5}
        clock.close()
        assert clock.now_s() == 12.5


def test_time_is_looked_up_without_a_question_and_is_the_time_that_is_told(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line") as bench:
        looks, asks = CompanionClock(str(tmp_path / "bench.sock")), CompanionClock(str(tmp_path / "bench.sock"))
        asks._shared = None
        for seconds in (0.1, 1.0 / 3.0, 60.0):
            bench.ask("advance", s=seconds)
            assert looks.now_s() == asks.now_s() > 0.0
        looks._socket.close()  # no question can be asked
        assert looks.now_s() == asks.now_s()
        looks.close()
        asks.close()
    assert not (tmp_path / "bench.sock.now").exists()


def test_without_the_file_the_time_is_asked_for(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line"):
        (tmp_path / "bench.sock.now").unlink()
        clock = CompanionClock(str(tmp_path / "bench.sock"))
        clock.sleep(2.5, StopRequest())
        assert clock.now_s() == 2.5
        clock.close()


def test_real_time_can_not_be_told(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line", "--time", "real") as bench:
        assert "real time" in bench.ask("advance", s=1.0)["error"]
        first = bench.ask("now")["now_s"]
        assert 0.0 <= first <= bench.ask("now")["now_s"] < 600.0


@pytest.mark.parametrize(
    "line",
    [
        b"]", b"[1]", b"{}", b'{"op":"fly"}', b'{"op":"advance","s":-1}', b'{"op":"advance","s":"x"}',
        b'{"op":"advance"}', b'{"op":"advance","s":NaN}', b'{"op":"move","x":2,"y":0}', b'{"op":"move","x":0.5}',
        b'{"op":"patch","width":10,"height":10,"bits":8,"rects":[[1,2,3]]}',
        b'{"op":"patch","width":10,"height":10,"bits":8,"rects":[[0,0,9,9,256,0,0]]}',
        b'{"op":"patch","width":"10","height":10,"bits":8,"rects":[]}', b'{"op":"fault","fault":"x"}', b"\xff\xfe",
    ],
)  # fmt: skip
def test_nonsense_gets_a_sentence_and_changes_nothing(shared: Companion, line: bytes) -> None:
    before = shared.ask("now")
    assert shared.ask_line(line)["error"].startswith("the simulated bench can't answer")
    assert shared.ask("now") == before


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """One bench for questions that change nothing."""
    with companion(tmp_path_factory.mktemp("shared"), "plain-488") as bench:
        yield bench


def test_truth_says_simulated_and_what_is_here(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line") as bench:
        bench.show(255, 255, 255)
        bench.ask("move", x=0.1, y=0.9)
        truth = bench.ask("truth")
        assert truth["simulated"] is True
        assert truth["here"]["place"] == [0.1, 0.9]
        assert truth["here"]["xyz"][1] == pytest.approx(truth["uniformity"]["white"][4][0]["luminance_cd_m2"])


def test_mover(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line") as bench:
        answers = converse(
            child(bench, "sim.mover"),
            {"seq": 1, "op": "move", "x": 0.1, "y": 0.9, "place": "r5c1"},
            {"seq": 2, "op": "move", "x": 1.1, "y": 0.9, "place": "r5c1"},
            {"seq": 3, "op": "dance"},
        )
        assert answers[0] == {"seq": 1, "ok": True}
        assert [answer["ok"] for answer in answers[1:]] == [False, False]
        assert "not on the screen" in answers[1]["text"]
        assert bench.ask("truth")["here"]["place"] == [0.1, 0.9]
        assert bench.ask("now")["now_s"] == pytest.approx(2.0)


def test_a_move_in_real_time_takes_its_time(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line", "--time", "real", "--move-s", "0.3") as bench:
        before = bench.ask("now")["now_s"]
        assert bench.ask("move", x=0.2, y=0.2)["ok"]
        assert bench.ask("now")["now_s"] - before >= 0.3


def test_window_by_hand(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line") as bench:
        rects = [[0, 0, 640, 360, 10, 20, 30], [100, 100, 50, 50, 200, 0, 0]]
        answers = converse(
            child(bench, "sim.window", "--size", "640x360"),
            {"seq": 1, "op": "hello"},
            {"seq": 2, "op": "show", "bits": 8, "rects": rects, "probe": [[0, 0], [100, 149], [150, 149]]},
            {"seq": 3, "op": "show", "bits": 10, "rects": [[0, 0, 640, 360, 1023, 512, 0]], "probe": [[1, 1]]},
            {"seq": 4, "op": "show", "bits": 8, "rects": [[0, 0, 640, 360, 300, 0, 0]], "probe": []},
            {"seq": 5, "op": "show", "bits": 8, "rects": [[0, 0]], "probe": []},
            {"seq": 6, "op": "show", "bits": 8, "rects": rects, "probe": [[640, 0]]},
            {"seq": 7, "op": "sing"},
        )
        identity = answers[0]["identity"]
        assert identity["simulated"] is True
        assert (identity["name"], identity["width"], identity["height"]) == ("sim-1", 640, 360)
        assert answers[1]["readback"] == "simulated"
        assert answers[1]["pixels"] == [[10, 20, 30], [200, 0, 0], [10, 20, 30]]
        # 512 of 1023 is 127.6 of 255; a frame buffer of 8 bits shows 128.
        assert answers[2]["pixels"] == [[255, 128, 0]]
        assert [(answer["ok"], answer["error"]) for answer in answers[3:]] == [(False, "refused")] * 4
        # The window has closed: the screen is black again.
        assert bench.ask("truth")["here"]["xyz"][1] < 1.0


def test_window_behind_the_daemons_own_screen(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line") as bench, bench.port("terse-line") as port:
        screen = WindowScreen(child(bench, "sim.window"))
        assert screen.identify().simulated
        for patch in (field(grey(255)), Patch("checkerboard", grey(255), inverse=True), Patch("window", grey(9))):
            shown = screen.show(patch, Deadline.after(60.0))
            assert shown.readback == "simulated"
        screen.show(field(grey(255)), Deadline.after(60.0))
        bench.ask("advance", s=2.0)
        port.write(READ["terse-line"])
        assert port.read_until(b"\n").startswith(b"G 1.02")
        screen.close()


def test_a_bench_that_goes_takes_its_window_along(tmp_path: Path) -> None:
    with companion(tmp_path, "terse-line") as bench:
        window = subprocess.Popen(child(bench, "sim.window"), cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        assert window.stdin is not None
        assert window.stdout is not None
        window.stdin.write(b'{"seq": 1, "op": "hello"}\n')
        window.stdin.flush()
        assert json.loads(window.stdout.readline())["ok"]
    assert json.loads(window.stdout.readline())["event"] == "display_lost"
    assert window.wait(timeout=60.0) == 1
    window.stdin.close()
    window.stdout.close()


@pytest.mark.parametrize(
    ("extra", "sentence"),
    [
        (["--dialect", "nowhere.yaml"], "nowhere.yaml"),
        (["--folder", "/nowhere/at/all"], "can't start"),
        (["--folder", "/tmp/" + 92 * "a"], "set TMPDIR to a shorter one"),
        (["--look", "--time", "virtual"], "--look needs --time real"),
        (["--fault", "reading:1:fire"], "fault"),
    ],
)
def test_it_says_why_it_can_not_start(tmp_path: Path, extra: list[str], sentence: str) -> None:
    command = [sys.executable, "-m", "sim.bench", "--display", "office-lcd", "--folder", str(tmp_path)]
    command += ["--dialect", str(METERS / "terse-line.yaml"), *extra]
    done = subprocess.run(command, cwd=ROOT, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert sentence in done.stderr
    assert "Traceback" not in done.stderr


def test_with_nobody_at_its_input_it_ends(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "sim.bench", "--display", "office-lcd", "--folder", str(tmp_path)]
    command += ["--dialect", str(METERS / "terse-line.yaml")]
    done = subprocess.run(command, cwd=ROOT, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("module", ["sim.window", "sim.mover"])
def test_children_start_light(module: str) -> None:
    heavy = {"numpy", "pydantic", "yaml", "argparse", "dataclasses", "typing_extensions", "benchd.plan"}
    assert not heavy & loaded_with(module)
