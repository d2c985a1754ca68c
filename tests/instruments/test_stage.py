"""A motion stage behind its dialect: it moves, it proves where it stands, and it says why it does not."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.clock import Deadline
from benchd.errors import MoveFailed
from benchd.instruments.positioner import Positioner
from benchd.instruments.serial_stage import StagePositioner
from benchd.profile.reading.strict_yaml import load_model
from benchd.profile.stage_dialect import MovesWithin, StageDialect
from tests.instruments.line_time import Answers, Peer

STAGES = Path(__file__).parents[2] / "profiles" / "stages"
ORIGIN, SIZE = (40.0, 30.0), (600.0, 340.0)


def dialect_of(**changes: object) -> StageDialect:
    text = (STAGES / "invented-stage.yaml").read_text()
    dialect = load_model(StageDialect, text, "invented-stage.yaml")
    short = {
        "moves_within_s": MovesWithin(fixed=0.4),
        "late_within_s": 0.2,
        "identify": dialect.identify.model_copy(update={"within_s": 0.4}),
        "position": dialect.position.model_copy(update={"within_s": 0.3}),
        "start": tuple(exchange.model_copy(update={"within_s": 0.3}) for exchange in dialect.start),
    }
    return dialect.model_copy(update={**short, **changes})


class Stage:
    """Speaks the invented dialect; ``acts`` say what to do with which line instead."""

    def __init__(self, acts: dict[str, Callable[[Stage], str | None]] | None = None) -> None:
        self.acts, self.said = acts or {}, list[str]()
        self.at = (0.0, 0.0)

    def __call__(self, line: bytes) -> Answers:
        text = line.decode()
        self.said.append(text)
        word = text.split(" ", 1)[0]
        answer = self.acts[word](self) if word in self.acts else self.usual(text)
        if answer is not None:
            yield 0.0, answer.encode() + b"\n"

    def usual(self, text: str) -> str:
        if text.startswith("GO "):
            x, y = text.split()[1:]
            self.at = (float(x), float(y))
            return "ok"
        told = f"at {self.at[0]:.2f} {self.at[1]:.2f}"
        return {"MM": "ok", "WHO": "stage WAGTAIL SN-1 1.0", "HOME": "home", "AT?": told}[text]


def connected(stage: Stage, **changes: object) -> tuple[Peer, StagePositioner]:
    peer = Peer(stage, b"\n")
    return peer, StagePositioner(dialect_of(**changes), peer.port, ORIGIN, SIZE)


def soon() -> Deadline:
    return Deadline.after(10.0)


def test_it_moves_and_proves_it() -> None:
    stage = Stage()
    peer, mover = connected(stage)
    as_protocol: Positioner = mover
    with peer:
        assert as_protocol.by == "mover"
        as_protocol.move("r2c3", (0.5, 0.25), soon())
        as_protocol.move("r1c1", (0.0, 1.0), soon())
        mover.close()
    assert stage.said == [
        *["MM", "WHO", "HOME", "AT?", "GO 340.00 115.00", "AT?"],  # opened and sent to its reference once
        *["AT?", "GO 40.00 370.00", "AT?"],
    ]


def test_who_it_is_without_moving() -> None:
    stage = Stage()
    peer, mover = connected(stage)
    with peer:
        assert mover.identify(soon()) == f"WAGTAIL SN-1 at {peer.port}"
        assert mover.identify(soon()).startswith("WAGTAIL SN-1")
        mover.close()
    assert stage.said == ["MM", "WHO"]


def test_a_stage_that_counts_the_other_way() -> None:
    mover = StagePositioner(dialect_of(), "nowhere", (640.0, 370.0), (-600.0, -340.0))
    assert mover.millimetres((0.0, 0.0)) == (640.0, 370.0)
    assert mover.millimetres((1.0, 0.5)) == (40.0, 200.0)


@pytest.fixture(scope="module")
def standing() -> Iterator[tuple[Stage, StagePositioner]]:
    stage = Stage()
    peer, mover = connected(stage)
    with peer:
        yield stage, mover
        mover.close()


@settings(max_examples=60, derandomize=True, deadline=None)
@given(x=st.floats(-0.5, 1.5), y=st.floats(-0.5, 1.5))
def test_nothing_outside_the_screen_is_ever_sent(standing: tuple[Stage, StagePositioner], x: float, y: float) -> None:
    stage, mover = standing
    stage.said.clear()
    if 0 <= x <= 1 and 0 <= y <= 1:
        mover.move("somewhere", (x, y), soon())
    else:
        with pytest.raises(MoveFailed, match="not on the screen"):
            mover.move("somewhere", (x, y), soon())
        assert stage.said == []
    for line in stage.said:
        if found := re.fullmatch(r"GO (\S+) (\S+)", line):
            assert ORIGIN[0] <= float(found[1]) <= ORIGIN[0] + SIZE[0]
            assert ORIGIN[1] <= float(found[2]) <= ORIGIN[1] + SIZE[1]


@pytest.mark.parametrize(
    ("acts", "says"),
    [
        ({"GO": lambda stage: "err 3"}, "a limit switch was hit"),
        ({"GO": lambda stage: "ok"}, r"was sent to 340.00, 115.00 mm and stands at 0.00, 0.00 mm"),
        ({"GO": lambda stage: "who knows"}, "does not have"),
        ({"GO": lambda stage: None}, "does not answer"),
        ({"AT?": lambda stage: None}, "does not answer"),
        ({"AT?": lambda stage: "at here and there"}, "does not have"),
        ({"AT?": lambda stage: "err 1"}, "does not know this command"),
        ({"HOME": lambda stage: "err 4"}, "an axis does not move"),
        ({"WHO": lambda stage: "meter LAPWING SN-1 1.0"}, "another stage"),
    ],
)
def test_why_it_did_not_get_there(acts: dict[str, Callable[[Stage], str | None]], says: str) -> None:
    peer, mover = connected(Stage(acts))
    with peer:
        with pytest.raises(MoveFailed, match=says) as caught:
            mover.move("r2c3", (0.5, 0.25), soon())
        assert str(caught.value).startswith("the stage did not reach r2c3: ")
        assert "meter" not in str(caught.value).replace("'meter LAPWING SN-1 1.0'", "")
        mover.close()


def test_after_trouble_it_moves_again() -> None:
    stage = Stage({"GO": lambda stage: "err 3"})
    peer, mover = connected(stage)
    with peer:
        with pytest.raises(MoveFailed):
            mover.move("r2c3", (0.5, 0.25), soon())
        stage.acts.clear()
        mover.move("r2c3", (0.5, 0.25), soon())
        assert stage.at == (340.0, 115.0)
        mover.close()


def test_a_slow_stage_is_waited_for() -> None:
    places = iter([0.0, 0.0, 100.0, 200.0, 339.98, 340.0])
    stage = Stage({"GO": lambda stage: "ok", "AT?": lambda stage: f"at {next(places):.2f} 115.00"})
    peer, mover = connected(stage, moves_within_s=MovesWithin(fixed=5.0))
    with peer:
        mover.move("r2c3", (0.5, 0.25), soon())
        mover.close()
    assert list(places) == [340.0]  # within the tolerance is enough


def test_a_stage_that_answers_on_arrival_or_never() -> None:
    dialect = dialect_of()
    silent = dialect.move.model_copy(update={"expect": None, "example": None})

    def go(stage: Stage) -> None:
        x, y = stage.said[-1].split()[1:]
        stage.at = (float(x), float(y))

    peer, mover = connected(Stage({"GO": go}), move=silent)
    with peer:
        mover.move("r2c3", (0.5, 0.25), soon())
        mover.close()


def test_no_port() -> None:
    mover = StagePositioner(dialect_of(), "/nowhere/stage", ORIGIN, SIZE)
    with pytest.raises(MoveFailed, match="there is no port /nowhere/stage; plug the stage in"):
        mover.move("r2c3", (0.5, 0.25), soon())


def test_a_cable_that_is_pulled() -> None:
    peer, mover = connected(Stage())
    with peer:
        mover.move("r1c1", (0.1, 0.1), soon())
        peer.unplug()
        with pytest.raises(MoveFailed, match="is gone"):
            mover.move("r2c3", (0.5, 0.25), soon())
        mover.close()
