"""The command at a terminal: the line of progress, and a hand that moves the meter."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import pytest

from benchd.run.log.journal import LogFile
from benchd.run.log.records import fold
from tests.command.conftest import ROOT, Benchd
from tests.command.terminal import at_terminal, in_a_line

PLAN = "plan: corners\nwarm_up: none\nblocks:\n  - uniformity: {grid: 2x1}\n"
ASKED = "   > "
"""The end of every prompt."""


@pytest.fixture
def hand_bench(tmp_path: Path) -> Path:
    """The simulated office bench, but a hand moves the meter."""
    text = (ROOT / "profiles" / "benches" / "sim-office.yaml").read_text(encoding="utf-8")
    text, changed = re.subn(r"^  stage:.*$", "", text, flags=re.MULTILINE)
    assert changed == 1
    path = tmp_path / "by-hand.yaml"
    path.write_text(text.replace("bench: sim-office", "bench: by-hand"), encoding="utf-8")
    (tmp_path / "corners.yaml").write_text(PLAN, encoding="utf-8")
    return path


def run(folder: Path, *typed: tuple[str, str], words: tuple[str, ...] = ()) -> tuple[int, str]:
    words = words or ("run", "corners.yaml", "--bench", "by-hand.yaml", "--log", "a.log")
    return at_terminal(folder, words, typed)


def test_each_move_is_asked_for_and_confirmed(tmp_path: Path, hand_bench: Path) -> None:
    code, text = run(tmp_path, (ASKED, "\n"), (ASKED, "\n"))
    assert code == 0, text
    spot = r"\(the bright spot: 10 % of the width, 50 % of the height\)"
    assert re.search(rf"Move the meter to r1c1 {spot}, then press Enter \(p: pause\)\. > ", in_a_line(text))
    assert re.search(r"SIMULATED\S* +uniformity +step 1/2 .* left", text), "the line of progress"
    assert "faults 0" in text
    moved = [record.body for record in LogFile(tmp_path / "a.log").records() if record.kind == "moved"]
    assert [(body["place"], body["by"]) for body in moved] == [("r1c1", "operator"), ("r1c2", "operator")]


@pytest.mark.parametrize(("keys", "why"), [("\x03", "Ctrl-C"), ("p\n", "the operator"), ("\x04", "the operator")])
def test_who_is_asked_may_stop_and_is_asked_again_by_the_resume(
    tmp_path: Path, hand_bench: Path, keys: str, why: str
) -> None:
    code, text = run(tmp_path, (ASKED, "\n"), (ASKED, keys))
    assert code == 3, text
    assert f"Paused by {why}." in text
    assert "Go on with: benchd resume a.log" in in_a_line(text)
    state = fold(LogFile(tmp_path / "a.log").records())
    assert (state.faults, state.move_to, len(state.done)) == (0, "", 1)
    code, text = run(tmp_path, (ASKED, "\n"), words=("resume", "a.log"))
    assert code == 0, text
    assert "Move the meter to r1c2" in text, "nobody said that it was moved"


def test_an_enter_too_many_does_not_confirm_the_next_move(tmp_path: Path, hand_bench: Path) -> None:
    code, text = run(tmp_path, (ASKED, "\n\n\n"), (ASKED, "p\n"))
    assert code == 3, text
    assert "Paused by the operator." in text


@pytest.mark.parametrize(
    "keys", ["no\n", "q\n", "pause\n", " \n", "x" * 2000 + "\n", "s\n"], ids=lambda keys: keys[:5].strip()
)
def test_a_prompt_takes_only_the_keys_that_it_names(tmp_path: Path, hand_bench: Path, keys: str) -> None:
    code, text = run(tmp_path, (ASKED, keys), (ASKED, "p\n"))
    assert code == 3, text
    shown = keys[:20] + "…" if len(keys) > 20 else keys[:-1]
    assert f"'{shown}' is none of Enter, p. Nothing was recorded." in text
    assert "Paused by the operator." in text
    assert text.count("then press Enter") == 2, "the question is put again"
    assert "moved" not in [record.kind for record in LogFile(tmp_path / "a.log").records()]


SWEEP = "plan: sweep\nwarm_up: none\nsweep: [{control: brightness, values: [100, 50]}]\nblocks: [luminance: {}]\n"


def test_a_setting_that_the_light_does_not_show_is_asked_for(tmp_path: Path, hand_bench: Path, benchd: Benchd) -> None:
    text = hand_bench.read_text(encoding="utf-8")
    by_hand = "  brightness: {prompt: 'Set it to {value}', low: 0, high: 100}"
    text, changed = re.subn(r"^  brightness: .*$", by_hand, text, flags=re.MULTILINE)
    assert changed == 1
    hand_bench.write_text(text, encoding="utf-8")
    (tmp_path / "sweep.yaml").write_text(SWEEP, encoding="utf-8")
    words = ("run", "sweep.yaml", "--bench", "by-hand.yaml", "--log", "a.log")
    typed = [(ASKED, "\n"), (ASKED, "\n"), ("Was it set?", "p\n"), (ASKED, "r\n"), (ASKED, "\n")]
    code, said = run(tmp_path, *typed, ("Was it set?", "\n"), words=words)
    assert code == 0, said
    assert re.search(r"Note: white did not change \((\S+) -> \1 cd/m2\) though brightness went from 100 to 50\.", said)
    kept = [record.body["answer"] for record in LogFile(tmp_path / "a.log").records() if record.kind == "confirmation"]
    assert kept == ["again", "yes"]
    assert "identical" in benchd("replay", "a.log").stdout
    said = " ".join(benchd("results", "a.log", "--details").stdout.split())
    assert "though brightness went from 100 to 50, and the operator confirmed that it was set" in said


def test_a_resume_asks_first_about_the_setting_in_doubt_and_nothing_twice(tmp_path: Path, hand_bench: Path) -> None:
    text = hand_bench.read_text(encoding="utf-8")
    by_hand = "  brightness: {prompt: 'Set it to {value}', low: 0, high: 100}"
    hand_bench.write_text(re.sub(r"^  brightness: .*$", by_hand, text, flags=re.MULTILINE), encoding="utf-8")
    sweep = SWEEP.replace("luminance: {}]", "luminance: {}, grayscale: {steps: 3}]\norder: listed")
    (tmp_path / "sweep.yaml").write_text(sweep, encoding="utf-8")
    words = ("run", "sweep.yaml", "--bench", "by-hand.yaml", "--log", "a.log")
    code, said = run(tmp_path, (ASKED, "\n"), (ASKED, "\n"), ("Was it set?", "\x03"), words=words)
    assert code == 3, said
    code, said = run(tmp_path, (ASKED, "\n"), words=("resume", "a.log"))
    assert code == 0, said
    assert said.count(ASKED) == 1
    asked = "though brightness went from 100 to 50. That was before the pause: was it set to 50, and is it still?"
    assert asked in in_a_line(said)


def test_a_point_of_a_sweep_is_skipped_where_the_operator_says_so(
    tmp_path: Path, hand_bench: Path, benchd: Benchd
) -> None:
    text = hand_bench.read_text(encoding="utf-8")
    by_hand = "  brightness: {prompt: 'Set brightness to {value}', low: 0, high: 100}"
    hand_bench.write_text(re.sub(r"^  brightness: .*$", by_hand, text, flags=re.MULTILINE), encoding="utf-8")
    (tmp_path / "sweep.yaml").write_text(SWEEP.replace("[100, 50]", "[100, 50, 0]"), encoding="utf-8")
    words = ("run", "sweep.yaml", "--bench", "by-hand.yaml", "--log", "a.log")
    code, said = run(tmp_path, (ASKED, "\n"), (ASKED, "S\n"), (ASKED, "p\n"), words=words)
    assert code == 3, said
    assert "Set brightness to 50, then press Enter (s: skip this point, p: pause).   > " in said
    assert "Skipped: brightness=50 is left out, 2 steps." in said
    code, said = run(tmp_path, (ASKED, "\n"), ("Was it set?", "\n"), words=("resume", "a.log"))
    assert code == 0, said
    assert "Set brightness to 0, then" in said, "what was skipped is not prompted for again"
    assert "Complete: 4 steps, 2 skipped, " in said
    state = fold(LogFile(tmp_path / "a.log").records())
    assert state.skipped == {"brightness=50/luminance/black", "brightness=50/luminance/white"}
    told = benchd("results", "a.log").stdout
    assert "POINTS SKIPPED (4 of 6 steps)" in told
    assert "brightness=50: the operator skipped this point of" in told
    assert json.loads(benchd("results", "a.log", "--json").stdout)["complete"] is False
    assert "identical" in benchd("replay", "a.log", "--log", "b.log").stdout
    assert fold(LogFile(tmp_path / "b.log").records()).skipped == state.skipped


def test_of_what_is_pasted_no_later_line_answers(tmp_path: Path, hand_bench: Path) -> None:
    code, text = run(tmp_path, (ASKED, "no\n\n\n"), (ASKED, "\n"), (ASKED, "P\n"))
    assert code == 3, text
    moved = [record.body["place"] for record in LogFile(tmp_path / "a.log").records() if record.kind == "moved"]
    assert moved == ["r1c1"]


def test_without_a_terminal_a_move_by_hand_is_a_planned_pause(tmp_path: Path, hand_bench: Path, benchd: Benchd) -> None:
    told = benchd("run", "corners.yaml", "--bench", "by-hand.yaml", "--log", "a.log", code=3).stderr
    assert "operator must move the meter to r1c1" in told
    assert "operator must move the meter to r1c2" in benchd("resume", "a.log", code=3).stderr
    assert "Complete" in benchd("resume", "a.log").stderr


def test_a_resume_whose_companion_does_not_start_is_still_paused(
    tmp_path: Path, hand_bench: Path, benchd: Benchd
) -> None:
    starter = tmp_path / "start.sh"
    starter.write_text('exec "$@"\n', encoding="utf-8")
    text = hand_bench.read_text(encoding="utf-8")
    started = text.replace(
        "command: [python, -m, sim.bench", f"command: [sh, {starter}, {sys.executable}, -m, sim.bench"
    )
    assert started != text
    hand_bench.write_text(started, encoding="utf-8")
    benchd("run", "corners.yaml", "--bench", "by-hand.yaml", "--log", "a.log", code=3)
    starter.write_text("exit 1\n", encoding="utf-8")
    assert "Still paused: the companion" in benchd("resume", "a.log", code=3).stderr
    starter.write_text('exec "$@"\n', encoding="utf-8")
    assert "operator must move the meter to r1c2" in benchd("resume", "a.log", code=3).stderr
