"""What only a hand can do: asked for on the way there and back, known again after a resume, told to a shutter."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from benchd.clock import Deadline
from benchd.errors import MoveNeeded, ScreenLost
from benchd.patch.model import field as full_field
from benchd.patch.model import grey
from benchd.plan.safety import is_bright
from benchd.plan.step import CAPPED, CAPPED_AT, CENTRE, SCREEN_OFF, SCREEN_OFF_AT, Step
from benchd.run.bench.attended import AttendedPositioner, dark_while_prompting, no_operator_to_ask, request
from benchd.run.log.bodies import spot
from benchd.run.rig import PanelProtection
from tests.run.rig import ScriptedPositioner, ScriptedRig, ScriptedScreen, run, step

SOON = Deadline.after(10.0)


@dataclass
class Hand:
    """Does what it is asked, and remembers it."""

    asked: list[str] = field(default_factory=list)

    def __call__(self, place: str, at: tuple[float, float]) -> None:
        self.asked.append(place)


def capped(name: str) -> Step:
    return replace(step(name, 0, CAPPED_AT), place=CAPPED)


def test_a_mover_without_a_shutter_needs_a_hand_for_the_cap_only() -> None:
    mover, hand = ScriptedPositioner(), Hand()
    positioner = AttendedPositioner(mover, hand)
    for place, at in ((CAPPED, CAPPED_AT), ("r1c1", (0.1, 0.1)), (SCREEN_OFF, SCREEN_OFF_AT), ("centre", CENTRE)):
        positioner.move(place, at, SOON)
    assert hand.asked == [CAPPED, "uncapped", SCREEN_OFF, "screen-on"]
    assert mover.moves == ["r1c1", "centre"]


def test_a_mover_with_a_shutter_is_told_and_nobody_is_asked() -> None:
    mover, hand = ScriptedPositioner(), Hand()
    positioner = AttendedPositioner(mover, hand, caps=True)
    positioner.move(CAPPED, CAPPED_AT, SOON)
    positioner.move("centre", CENTRE, SOON)
    assert hand.asked == []
    assert mover.moves == [CAPPED, "centre"]


def test_a_hand_that_takes_the_cap_off_also_puts_the_meter_to_the_centre() -> None:
    by_hand, hand = ScriptedPositioner(by="operator"), Hand()
    positioner = AttendedPositioner(by_hand, hand)
    positioner.move(CAPPED, CAPPED_AT, SOON)
    positioner.move("centre", CENTRE, SOON)
    positioner.move("r1c1", (0.1, 0.1), SOON)
    assert hand.asked == [CAPPED, "uncapped"]
    assert by_hand.moves == ["r1c1"], "a real place is asked for as ever"


def test_every_request_is_a_sentence_for_whoever_stands_there() -> None:
    assert request(CAPPED, CAPPED_AT).startswith("Put the cap on the meter")
    assert request("uncapped", CENTRE).startswith("Take the cap off the meter")
    assert (
        request("r1c1", (0.1, 0.9)) == "Move the meter to r1c1 (the bright spot: 10 % of the width, 90 % of the height)"
    )
    with pytest.raises(MoveNeeded, match="Put the cap on the meter, so that no light reaches it, and resume"):
        no_operator_to_ask(CAPPED, CAPPED_AT)


def test_without_anybody_the_run_pauses_and_the_resume_is_the_word_that_the_cap_is_on(tmp_path: Path) -> None:
    log, steps = tmp_path / "run.log", [capped("dark"), step("a")]
    rig = ScriptedRig()
    rig.positioner = AttendedPositioner(ScriptedPositioner(), no_operator_to_ask)  # type: ignore[assignment]
    outcome, _ = run(log, steps, rig)
    assert outcome.move_to == CAPPED
    rig.positioner.confirmed = outcome.move_to  # type: ignore[attr-defined]
    outcome, records = run(log, steps, rig)
    assert not outcome.complete, "the cap must come off again"
    assert outcome.move_to == "centre"
    assert [record.step for record in records if record.kind == "done"] == ["dark"]
    fresh = ScriptedRig()
    fresh.positioner = AttendedPositioner(ScriptedPositioner(), no_operator_to_ask)  # type: ignore[assignment]
    fresh.positioner.confirmed = outcome.move_to  # type: ignore[attr-defined]
    outcome, records = run(log, steps, fresh)
    assert outcome.complete


def test_the_screen_is_black_while_a_hand_is_at_the_cap(tmp_path: Path) -> None:
    rig = ScriptedRig(positioner=ScriptedPositioner(by="operator"))
    run(tmp_path / "run.log", [step("a"), capped("dark")], rig)
    assert {patch for _, patch in rig.screen.shown[2:]} == {full_field(grey(0))}


def test_the_screen_is_black_while_a_hand_sets_the_display() -> None:
    rig = ScriptedRig()
    rig.screen.show(full_field(grey(255)), SOON)
    seen: list[object] = []
    ask = dark_while_prompting(lambda sentence: seen.append((sentence, rig.screen.shown[-1][1])), lambda: rig.screen)
    ask("Set local dimming to low")
    assert seen == [("Set local dimming to low", full_field(grey(0)))]
    broken = ScriptedScreen(rig.clock, failures={1: ScreenLost("the window is gone")})
    dark_while_prompting(lambda sentence: seen.append(sentence), lambda: broken)("Set it")
    assert seen[-1] == "Set it", "the next patch tells of the screen"


@pytest.mark.parametrize("transfer", ["sdr", "pq", "hlg"])
def test_the_spot_of_an_emissive_panel_may_stay_as_long_as_a_hand_takes(transfer: str, tmp_path: Path) -> None:
    there = step("corner", at=(0.1, 0.1))
    there = replace(there, patch=replace(there.patch, transfer=transfer))
    assert not is_bright(spot(there, dim=True))
    if transfer == "sdr":
        assert is_bright(spot(there)), "as bright as can be where it does no harm"
        rig = ScriptedRig(positioner=ScriptedPositioner(by="operator"))
        run(tmp_path / "run.log", [there], rig, protection=PanelProtection(60.0, 10.0))
        assert spot(there, dim=True) in [patch for _, patch in rig.screen.shown]
