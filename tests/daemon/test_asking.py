"""A hand that the service asks: for the meter's cap, the display's switch, a setting; and when nobody is there."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from benchd.daemon.attempt import check
from benchd.daemon.job_control import NotPossible, Snapshot, Submission
from benchd.daemon.operator_prompt import PositionRecord
from benchd.errors import OperatorNeeded
from benchd.plan.offset_readings import SENTENCES
from benchd.profile import profile_store as library
from benchd.run.job import BenchJob, Document
from benchd.run.operator_checks import Answer, Doubt
from tests.daemon.scene import GRID, Gate, House, Scene, make_bench, quick, states

BESIDE = GRID.replace("blocks:", "dark_offset: {when: [before]}\nambient: {screen: off, when: [after]}\nblocks:", 1)


def beside(**more: Any) -> Submission:
    """A submission of a plan that wants the cap on the meter before, and the display off after."""
    return replace(Submission("beside.yaml", BESIDE), **more)


def waits(snapshot: Snapshot) -> bool:
    return snapshot.doing == "waiting for the operator"


def test_cap_and_switch_are_asked_for_by_their_names(tmp_path: Path) -> None:
    said: list[str] = []
    with House(tmp_path) as house:
        house.service.submit(beside(attended=True))
        while True:
            snapshot = house.wait(lambda found: waits(found) or states(found)["j1"] in ("complete", "paused"))
            if not waits(snapshot):
                break
            said.append(snapshot.operator)
            assert snapshot.why == f"{snapshot.operator}, then `benchd next`"
            house.service.next_move()
            house.wait(lambda found, hand=snapshot.operator: found.operator != hand)
        house.wait_for(j1="complete")
    assert said == [SENTENCES[place] for place in ("capped", "uncapped", "screen-off")]
    assert [event for event, _ in house.told.events] == ["move"] * len(said) + ["complete"]


def test_without_anybody_there_the_sentence_is_that_of_the_cap(tmp_path: Path) -> None:
    with House(tmp_path) as house:
        job = house.service.submit(beside())
        assert "put the cap on the meter, and switch the display off" in job.why
        paused = house.wait_for(j1="paused").queue[0]
        assert "Put the cap on the meter" in paused.why
        assert "not submitted as attended" in paused.why
        assert paused.move_to == "capped"
        gate = Gate(house.scene, at=house.scene.readings + 2)
        house.service.submit(quick())
        gate.wait()
        with pytest.raises(NotPossible, match=r"then put the cap on the meter, .* and resume j1"):
            house.service.resume("j1")
        gate.open.set()
        house.wait_for(j2="complete")


def test_the_next_job_is_told_of_the_cap(tmp_path: Path) -> None:
    hand = PositionRecord(tmp_path, make_bench())
    hand.asked("capped")
    assert (hand.stands, hand.back) == ("the cap is on the meter", SENTENCES["uncapped"])
    hand.asked("screen-on")
    assert (hand.stands, hand.back) == ("the display was switched off", SENTENCES["screen-on"])
    hand.confirmed("screen-on")
    assert hand.place == "centre"


def _set_at(scene: Scene, at: int, failures: list[BaseException]) -> None:
    def before(number: int) -> None:
        if number == at:
            assert scene.ask_to_set is not None
            try:
                scene.ask_to_set("Set preset to warm in the display's menu.")
            except OperatorNeeded as needed:
                failures.append(needed)
                raise

    scene.before_reading = before


def test_an_attended_job_has_a_control_set_by_hand(tmp_path: Path) -> None:
    failures: list[BaseException] = []
    with House(tmp_path) as house:
        _set_at(house.scene, 2, failures)
        house.service.submit(quick(attended=True))
        asked = house.wait(waits)
        assert asked.operator == "Set preset to warm in the display's menu"
        assert asked.place == "", "the meter stays where it is"
        assert (asked.awaited, asked.patch["code"]) == ("set", (0, 0, 0)), "dark meanwhile"
        house.service.next_move()
        house.wait_for(j1="complete")
        over = house.service.snapshot()
        assert (over.operator, over.awaited) == ("", "")
        assert house.told.events == [("set", "j1"), ("complete", "j1")]
        assert not (house.places.queue / "meter-place").exists()
    assert failures == []


@pytest.mark.parametrize(
    ("awaited", "panel", "shown_manually", "code"),
    [
        ("set", "lcd", False, (0, 0, 0)),
        ("set", "emissive", False, (0, 0, 0)),
        ("set", "lcd", True, None),
        ("show", "lcd", True, (255, 255, 255)),
        ("confirm", "lcd", False, (255, 255, 255)),
        ("confirm", "emissive", False, (0, 0, 0)),
        ("confirm", "emissive", True, None),
    ],
)
def test_the_picture_is_what_the_screen_shows_while_the_operator_is_awaited(
    tmp_path: Path, awaited: str, panel: str, shown_manually: bool, code: object
) -> None:
    def before(number: int) -> None:
        scene = house.scene
        assert scene.ask_to_set is not None
        assert scene.ask_to_show is not None
        assert scene.confirm is not None
        if number == 1:
            {"set": partial(scene.ask_to_set, "Do it."), "show": partial(scene.ask_to_show, "Do it.")}.get(
                awaited, partial(scene.confirm, DOUBT)
            )()

    with House(tmp_path, Scene(panel=panel, shown_manually=shown_manually, before_reading=before)) as house:
        house.service.submit(Submission("white.yaml", WHITE, attended=True))
        asked = house.wait(waits)
        assert (asked.awaited, asked.patch.get("code")) == (awaited, code)
        house.service.next_move()
        house.wait_for(j1="complete")


WHITE = "plan: white\nwarm_up: none\nblocks:\n  - patches: {list: [{name: w, code: 255}]}\n"
DOUBT = Doubt("setting", "white did not change", "Was it set?", "I set it now, read again", "b/white", ("b/white",))


def _confirm_at(scene: Scene, at: int, answers: list[Answer]) -> None:
    def before(number: int) -> None:
        if number == at:
            assert scene.confirm is not None
            answers.append(scene.confirm(DOUBT))

    scene.before_reading = before


@pytest.mark.parametrize(
    ("says", "answer"), [("next", Answer.YES), ("again", Answer.AGAIN), ("nothing", Answer.NONE), ("away", Answer.NONE)]
)
def test_whether_it_was_set_is_asked_where_the_light_did_not_change(tmp_path: Path, says: str, answer: Answer) -> None:
    answers: list[Answer] = []
    with House(tmp_path, operator_within_s=0.2 if says == "nothing" else 60.0) as house:
        _confirm_at(house.scene, 2, answers)
        with pytest.raises(NotPossible, match="nothing is offered"):
            house.service.next_move("again")
        house.service.submit(quick(attended=says != "away"))
        if says in ("next", "again"):
            asked = house.wait(waits)
            assert asked.operator == "White did not change. Was it set?"
            assert asked.again == "I set it now, read again"
            assert asked.why.endswith("Yes: `benchd next`; I set it now, read again: `benchd next --again`")
            house.service.next_move("again" if says == "again" else "next")
        found = house.wait_for(j1="complete")
        assert (found.operator, found.again) == ("", "")
    assert answers == [answer]


@pytest.mark.parametrize("by", ["pause", "nobody"])
def test_who_sets_nothing_pauses_that_job(tmp_path: Path, by: str) -> None:
    failures: list[BaseException] = []
    with House(tmp_path, operator_within_s=0.2 if by == "nobody" else 60.0) as house:
        _set_at(house.scene, 2, failures)
        house.service.submit(quick(attended=True))
        if by == "pause":
            house.wait(waits)
            house.service.pause("j1")
        house.wait_for(j1="paused")
        with pytest.raises(NotPossible, match="is waited for"):
            house.service.next_move()
        house.scene.before_reading = lambda number: None
        house.service.resume("j1")
        house.wait_for(j1="complete")
    assert len(failures) == 1


def test_without_anybody_there_no_session_may_ask(tmp_path: Path) -> None:
    with House(tmp_path) as house:
        house.service.submit(quick())
        house.wait_for(j1="complete")
        assert house.scene.ask_to_set is None


def test_a_sweep_by_hand_is_said_before_it_starts() -> None:
    text = (
        "bench: b\nscreen: {monitor: primary}\ninstruments: {meter: {command: [meter]}, stage: {command: [mover]}}\n"
        'controls:\n  preset: {prompt: "set the preset to {value}", values: {standard: 5, warm: 4}, settle_s: 4}\n'
    )
    bench = BenchJob({"bench": Document("b", "b.yaml", text)}, library.load_bench(text, "b.yaml"))
    plan = GRID.replace("blocks:", "sweep:\n  - {control: preset, values: [standard, warm]}\nblocks:", 1)
    submission = Submission("sweep.yaml", plan)
    assert "the operator must set preset, and the job is not attended" in check(submission, bench).remark
    assert check(replace(submission, attended=True), bench).remark == ""


def test_the_picture_has_the_shape_of_the_screen(tmp_path: Path) -> None:
    with House(tmp_path) as house:
        gate = Gate(house.scene, at=2)
        assert house.service.snapshot().patch == {}
        house.service.submit(quick())
        gate.wait()
        patch = house.service.snapshot().patch
        assert patch["kind"] == "field"
        assert (patch["width"], patch["height"]) == (1920, 1080)
        gate.open.set()
        house.wait_for(j1="complete")
        assert states(house.service.snapshot()) == {"j1": "complete"}
