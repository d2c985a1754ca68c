"""The window process's loop with a surface that only remembers what it was told."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from typing import Any

import pytest

from benchd.errors import ScreenDisturbed, ScreenError, WrongScreen
from benchd.patch.screen import ScreenIdentity, Shown
from benchd.patch.window_loop import refuse, serve
from benchd.patch.window_protocol import ShowRequest

SHOW = {"op": "show", "bits": 8, "rects": [[0, 0, 9, 9, 1, 2, 3]], "probe": []}


class Paper:
    """A surface on which the last colour stays."""

    def __init__(self, fails: ScreenError | None = None, ends_after: int = 1000) -> None:
        self.colour: object = "unpainted"
        self._fails, self._left = fails, ends_after

    def identify(self) -> ScreenIdentity:
        return ScreenIdentity("paper", 9, 9, 0, 0, 8, "none", "pen", "no", True)

    def show(self, request: ShowRequest) -> Shown:
        self.colour = request.rects[-1].code
        if self._fails:
            raise self._fails
        return Shown(9, 9, "paper", 8, "none")

    def black(self) -> None:
        self.colour = "black"

    def pump(self) -> str:
        self._left -= 1
        return "the window was closed by hand" if self._left < 0 else ""

    def waits_on(self) -> tuple[Sequence[int], float]:
        return (), 0.01


class Heard:
    """Answers, kept."""

    def __init__(self) -> None:
        self.said: list[dict[str, Any]] = []

    def send(self, message: dict[str, Any]) -> None:
        self.said.append(message)


def questions(*lines: object) -> int:
    """A descriptor from which ``lines`` can be read, then the end."""
    read_end, write_end = os.pipe()
    for line in lines:
        os.write(write_end, line if isinstance(line, bytes) else json.dumps(line).encode() + b"\n")
    os.close(write_end)
    return read_end


def run(surface: Paper, *lines: object) -> tuple[int, list[dict[str, Any]]]:
    heard, descriptor = Heard(), questions(*lines)
    try:
        return serve(surface, descriptor, heard), heard.said
    finally:
        os.close(descriptor)


def test_it_answers_in_order_and_ends_black() -> None:
    paper = Paper()
    code, said = run(paper, {"seq": 1, "op": "hello"}, {"seq": 2, **SHOW})
    assert code == 0
    assert [(m["seq"], m["ok"]) for m in said] == [(1, True), (2, True)]
    assert said[0]["identity"]["name"] == "paper"
    assert said[1]["screen"] == "paper"
    assert paper.colour == "black"


def test_without_a_question_it_is_black() -> None:
    paper = Paper()
    assert run(paper) == (0, [])
    assert paper.colour == "black"


@pytest.mark.parametrize(
    ("line", "seq", "words"),
    [
        (b"nonsense\n", 0, "not JSON"),
        ({"op": "hello"}, 0, "seq must be"),
        ({"seq": True, "op": "hello"}, 0, "seq must be"),
        ({"seq": 5, "op": "dance"}, 5, "no op 'dance'"),
        ({"seq": 6, "op": "show"}, 6, "bits must be"),
    ],
)
def test_what_it_does_not_understand_is_refused_and_life_goes_on(line: object, seq: int, words: str) -> None:
    code, said = run(Paper(), line, {"seq": 9, **SHOW})
    assert code == 0
    assert (said[0]["seq"], said[0]["ok"], said[0]["error"]) == (seq, False, "refused")
    assert words in said[0]["text"]
    assert said[1]["ok"]


def test_a_failed_show_is_named_and_goes_black() -> None:
    seen: list[object] = []

    class Watched(Paper):
        def pump(self) -> str:
            seen.append(self.colour)
            return super().pump()

    code, said = run(Watched(ScreenDisturbed("it is covered")), {"seq": 3, **SHOW})
    assert code == 0
    assert said == [{"seq": 3, "ok": False, "error": "disturbed", "text": "it is covered"}]
    assert set(seen) == {"black"}


def test_a_window_closed_by_hand_says_so_and_ends() -> None:
    paper = Paper(ends_after=0)
    code, said = run(paper, {"seq": 1, "op": "hello"})
    assert code == 1
    assert said == [{"event": "closed", "text": "the window was closed by hand"}]


def test_without_a_window_every_question_gets_the_reason() -> None:
    heard = Heard()
    descriptor = questions({"seq": 1, "op": "hello"}, {"seq": 2, **SHOW})
    assert refuse(WrongScreen("there is no such screen"), descriptor, heard) == 1
    os.close(descriptor)
    assert [(m["seq"], m["error"], m["text"]) for m in heard.said] == [
        (1, "wrong_screen", "there is no such screen"),
        (2, "wrong_screen", "there is no such screen"),
    ]
