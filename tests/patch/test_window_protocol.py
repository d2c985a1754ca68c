"""The words between daemon and window: what is said is what is understood, and nothing else is."""

from __future__ import annotations

import contextlib
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchd.errors import ScreenDisturbed, ScreenError, ScreenLost, WrongScreen
from benchd.patch.model import Rect
from benchd.patch.screen import ScreenIdentity, Shown
from benchd.patch.window_protocol import (
    NotThisProtocol,
    ShowRequest,
    answer_message,
    decode,
    encode,
    identity_message,
    read_answer,
    read_identity,
    read_show,
    show_message,
    word_for,
)

bits = st.integers(1, 16)
places = st.integers(-5, 5000)


@st.composite
def requests(draw: st.DrawFn) -> ShowRequest:
    depth = draw(bits)
    code = st.integers(0, (1 << depth) - 1)
    sides = st.integers(1, 5000)
    rect = st.builds(Rect, places, places, sides, sides, st.tuples(code, code, code))
    rects = draw(st.lists(rect, min_size=1, max_size=5))
    probes = draw(st.lists(st.tuples(places, places), max_size=5))
    return ShowRequest(depth, tuple(rects), tuple(probes))


@given(requests(), st.integers(0, 1 << 40))
def test_a_question_is_understood_as_it_was_meant(request: ShowRequest, seq: int) -> None:
    line = show_message(seq, request)
    assert line.count(b"\n") == 1
    message = decode(line)
    assert (message["seq"], message["op"]) == (seq, "show")
    assert read_show(message) == request


def test_an_answer_is_understood_as_it_was_meant() -> None:
    answer = Shown(640, 360, "Ä-1", 8, "screen", pixels=((1, 2, 3), (4, 5, 6)))
    assert read_answer(decode(encode(answer_message(7, answer))), 2) == answer
    identity = ScreenIdentity("Ä-1", 640, 360, 5, 6, 10, "screen", "r", "a", False, "changed")
    assert read_identity(decode(encode(identity_message(1, identity)))["identity"]) == identity


def test_the_documented_question_is_understood() -> None:
    line = b'{"seq":2,"op":"show","bits":8,"rects":[[0,0,9,8,1,2,3]],"probe":[[4,5]]}'
    assert read_show(decode(line)) == ShowRequest(8, (Rect(0, 0, 9, 8, (1, 2, 3)),), ((4, 5),))


GOOD_SHOW = {"bits": 8, "rects": [[0, 0, 9, 9, 1, 2, 3]], "probe": [[0, 0]]}


@pytest.mark.parametrize(
    "change",
    [
        {"bits": 0},
        {"bits": "8"},
        {"rects": []},
        {"rects": None},
        {"rects": [[0, 0, 9, 9, 1, 2]]},
        {"rects": [[0, 0, 0, 9, 1, 2, 3]]},
        {"rects": [[0, 0, 9, 9, 1, 2, 256]]},
        {"rects": [[0, 0, 9, 9, 1, 2, -1]]},
        {"rects": [[0, 0, 9, 9, 1, 2, 3.0]]},
        {"rects": [[0, 0, 9, 9, 1, 2, True]]},
        {"probe": [[1]]},
        {"probe": 3},
    ],
    ids=str,
)
def test_a_bad_question_is_refused(change: dict[str, object]) -> None:
    read_show(GOOD_SHOW)
    with pytest.raises(NotThisProtocol):
        read_show({**GOOD_SHOW, **change})


GOOD_ANSWER = {"width": 9, "height": 9, "screen": "a", "bits": 8, "readback": "screen", "pixels": [[1, 2, 3]]}


@pytest.mark.parametrize(
    "change",
    [
        {"width": True},
        {"height": None},
        {"screen": 5},
        {"pixels": []},
        {"pixels": [[1, 2, 3], [1, 2, 3]]},
        {"pixels": [[1, 2]]},
        {"pixels": "none"},
    ],
    ids=str,
)
def test_a_bad_answer_is_refused(change: dict[str, object]) -> None:
    read_answer(GOOD_ANSWER, 1)
    with pytest.raises(NotThisProtocol):
        read_answer({**GOOD_ANSWER, **change}, 1)


def test_a_window_without_readback_sends_no_pixels() -> None:
    assert read_answer({**GOOD_ANSWER, "readback": "none", "pixels": []}, 1).pixels == ()


@given(st.binary(max_size=60))
def test_garbage_is_refused_or_an_object(line: bytes) -> None:
    with contextlib.suppress(NotThisProtocol):
        assert isinstance(decode(line), dict)


@pytest.mark.parametrize("line", [b"[1]", b"3", b"{", b"\xff", b"[" * 100_000], ids=lambda b: repr(b[:5]))
def test_what_is_no_object_is_refused(line: bytes) -> None:
    with pytest.raises(NotThisProtocol, match="is not"):
        decode(line)


IDENTITY = {"name": "A", "width": 1, "height": 1, "x": 0, "y": 0, "bits": 8, "readback": "none",
            "renderer": "r", "awake": "a", "simulated": True}  # fmt: skip


def test_an_identity_may_leave_out_the_gamma_ramp_only() -> None:
    assert read_identity(IDENTITY).gamma_ramp == "unknown"
    for key in IDENTITY:
        with pytest.raises(NotThisProtocol, match=key):
            read_identity({k: v for k, v in IDENTITY.items() if k != key})
    with pytest.raises(NotThisProtocol, match="unknown fields: colour"):
        read_identity({**IDENTITY, "colour": "red"})
    with pytest.raises(NotThisProtocol):
        read_identity(json.loads("[]"))


@pytest.mark.parametrize(
    ("error", "word"),
    [(ScreenDisturbed, "disturbed"), (WrongScreen, "wrong_screen"), (ScreenLost, "lost"), (ScreenError, "refused")],
)
def test_every_error_has_its_word(error: type[ScreenError], word: str) -> None:
    assert word_for(error("a sentence")) == word
