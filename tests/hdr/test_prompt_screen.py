"""A screen that a person sets: asked once a patch, in words that can be set on a source of their own."""

from __future__ import annotations

import pytest

from benchd.clock import Deadline
from benchd.errors import OperatorNeeded, WrongScreen
from benchd.instruments.control import no_operator_to_set
from benchd.patch.model import Patch, field, grey
from benchd.patch.screen import PromptScreen, words_for

NOW = Deadline.after(60.0)


def screen_with(asked: list[str], bits: int = 10) -> PromptScreen:
    return PromptScreen("a pattern source (invented)", "3840x2160", bits, "pq", asked.append)


def test_each_patch_is_asked_for_once() -> None:
    asked: list[str] = []
    screen = screen_with(asked)
    patch = Patch("window", grey(769), 10, grey(0), 10.0, transfer="pq")
    assert screen.show(patch, NOW).readback == "none"
    screen.show(patch, NOW)  # the look after the readings asks nobody again
    assert len(asked) == 1
    # 10 % of 3840 x 2160: sides sqrt(0.1), rounded half up.
    assert "1214 x 683 pixels at 1313, 739" in asked[0]
    assert "code 769 on code 0 (10-bit PQ codes)" in asked[0]
    assert screen.identify().signal == "pq"


def test_words_for_fields_boards_and_colours() -> None:
    assert words_for(field(grey(64), 10), 1920, 1080) == "full screen code 64 (10-bit SDR codes)"
    board = Patch("checkerboard", grey(1023), 10, columns=9, rows=9, inverse=True, transfer="pq")
    assert words_for(board, 1920, 1080).startswith("checkerboard of 9 x 9, top left code 0, beside it code 1023")
    assert "codes 491/247/0" in words_for(field((491, 247, 0), 10), 1920, 1080)


def test_codes_too_deep_for_the_source_are_refused_and_nobody_there_is_said() -> None:
    with pytest.raises(WrongScreen):
        screen_with([], bits=8).show(field(grey(1000), 10), NOW)
    alone = PromptScreen("a source", "1920x1080", 10, "pq", no_operator_to_set)
    with pytest.raises(OperatorNeeded, match="can't prompt"):
        alone.show(field(grey(0), 10), NOW)
