"""The unit file that is shipped: its command is ours, and its times go with those of the sequencer."""

from __future__ import annotations

import configparser
import shlex
from pathlib import Path

from benchd.cli import build_parser
from benchd.cli_words import main_of
from benchd.command.service import serve
from benchd.command.service.queue import ENDS_WITHIN_S
from benchd.daemon.notify import SLICE_S
from benchd.daemon.service import LOOK_EVERY_S
from benchd.exits import Exit
from benchd.run.rig import READ_WITHIN_S, SHOW_WITHIN_S
from benchd.run.sequencer import MOVE_WITHIN_S

UNIT = Path(__file__).resolve().parents[2] / "profiles" / "systemd" / "benchd@.service"
SECONDS = {"min": 60.0, "s": 1.0}


def service() -> dict[str, str]:
    parser = configparser.ConfigParser(strict=True, interpolation=None)
    parser.optionxform = str  # type: ignore[assignment, method-assign]
    parser.read_string(UNIT.read_text())
    assert parser["Install"]["WantedBy"] == "default.target"
    return dict(parser["Service"])


def seconds(text: str) -> float:
    number = text.rstrip("abcdefghijklmnopqrstuvwxyz")
    return float(number) * SECONDS[text[len(number) :]]


def test_its_command_is_one_of_ours() -> None:
    program, *words = shlex.split(service()["ExecStart"])
    assert Path(program).name == "benchd"
    found = build_parser().parse_args(words)
    assert main_of(found.command) is serve.main
    assert found.bench == "%i"
    for line in UNIT.read_text().splitlines():
        if line.startswith("#   ExecStart=%h"):
            build_parser().parse_args(shlex.split(line.partition("=")[2])[1:])


def test_the_watchdog_outlasts_every_silence_that_is_no_hang() -> None:
    unit = service()
    assert (unit["Type"], unit["Restart"]) == ("notify", "on-failure")
    watchdog_s = seconds(unit["WatchdogSec"])
    longest_s = max(READ_WITHIN_S, MOVE_WITHIN_S) + SHOW_WITHIN_S
    assert 0.75 * watchdog_s > longest_s, "a sign of life comes a quarter of the time late at most"
    assert max(SLICE_S, LOOK_EVERY_S) < watchdog_s / 4
    assert seconds(unit["TimeoutStopSec"]) > ENDS_WITHIN_S > longest_s


def test_what_trying_again_can_not_mend_is_not_tried_again() -> None:
    assert service()["RestartPreventExitStatus"] == str(Exit.BAD_INPUT.value)


def test_only_the_service_itself_is_told_to_end() -> None:
    assert service()["KillMode"] == "mixed", "its window must live until black was shown"
