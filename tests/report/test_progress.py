"""The progress line. The display, its log and its figures are invented."""

from dataclasses import replace

import pytest

from benchd.report.terminal.progress import Progress, block_line, progress_line, what

STANDING = Progress(
    block="grayscale",
    step=14,
    steps=21,
    what="code 166",
    done=0.416,
    left_s=1080.0,
    faults=0,
    log="plover-27-1/2026-03-02T1812.log",
    luminance_cd_m2=122.43,
    cct_k=6510.4,
)


def test_the_whole_line() -> None:
    assert progress_line(STANDING, width=160) == (
        "grayscale  step 14/21  code 166  122.4 cd/m2  6510 K  [=====>          ]  time 41 %  18 min left  faults 0  "
        "log plover-27-1/2026-03-02T1812.log"
    )


def test_a_narrow_terminal_loses_the_least_needed_first() -> None:
    assert progress_line(STANDING, width=80) == (
        "grayscale  step 14/21  code 166  122.4 cd/m2  time 41 %  18 min left  faults 0"
    )
    assert progress_line(STANDING, width=66) == "grayscale  step 14/21  code 166  122.4 cd/m2  time 41 %  faults 0"
    assert progress_line(STANDING, width=50) == "grayscale  code 166  time 41 %  faults 0"


@pytest.mark.parametrize("width", [1, 20, 40, 80, 100, 200])
@pytest.mark.parametrize("faults", [0, 3])
def test_it_never_exceeds_the_width(width: int, faults: int) -> None:
    assert len(progress_line(replace(STANDING, faults=faults, simulated=True), width=width)) <= width


def test_faults_stay_on_a_narrow_terminal_once_there_are_some() -> None:
    assert "faults 2" in progress_line(replace(STANDING, faults=2), width=70)


def test_a_simulated_run_says_so_first_at_any_width() -> None:
    simulated = replace(STANDING, simulated=True)
    assert progress_line(simulated, width=60).startswith("SIMULATED  grayscale")
    assert block_line(simulated).startswith("SIMULATED  grayscale")


def test_colour_changes_no_letter() -> None:
    line = progress_line(replace(STANDING, faults=2, simulated=True), width=200, colour=True)
    plain = progress_line(replace(STANDING, faults=2, simulated=True), width=200)
    assert line != plain
    assert line.replace("\x1b[33m", "").replace("\x1b[0m", "") == plain


def test_the_warm_up_and_what_is_not_known_yet() -> None:
    start = Progress(block="", step=1, steps=1, what="warm-up", done=0.0, left_s=None, faults=0, log="a.log")
    assert progress_line(start) == "warm-up  [                ]  time 0 %  faults 0  log a.log"


def test_time_that_is_still_open_has_a_least_and_a_most() -> None:
    line = progress_line(replace(STANDING, left_s=1620.0, left_maximum_s=4020.0), width=160)
    assert "27 to 67 min left" in line


def test_a_reading_out_of_range_is_named_not_numbered() -> None:
    line = progress_line(replace(STANDING, status="under", luminance_cd_m2=0.0001, cct_k=None), width=160)
    assert "under range" in line
    assert "cd/m2" not in line
    assert "122.4 cd/m2 unstable" in progress_line(replace(STANDING, status="unstable"), width=160)


def test_one_line_a_block_without_a_terminal() -> None:
    done = replace(STANDING, step=21, done=0.5)
    assert block_line(done) == "grayscale done: 21 steps, 50 % of the time, 18 min left, 0 faults"


@pytest.mark.parametrize(
    ("labels", "place", "text"),
    [
        ({}, "centre", "warm-up"),
        ({"level": "white"}, "centre", "white"),
        ({"code": 128}, "centre", "code 128"),
        ({"row": 2, "column": 3, "level": "grey50", "level_percent": 50}, "r2c3", "r2c3 grey50"),
        (
            {"kind": "checkerboard", "polarity": "inverse", "row": 1, "column": 4, "level": "black"},
            "r1c4",
            "r1c4 black of inverse checkerboard",
        ),
        ({"name": "skin-1"}, "centre", "skin-1"),
        ({"number": 3}, "centre", "no. 3"),
        ({"number": 1}, "capped", "capped no. 1"),
        ({"area_percent": 2.5}, "centre", "window of 2.5 %"),
        ({"hue": "red", "level_cd_m2": 100.0}, "centre", "red at 100 cd/m2"),
        (
            {"part": "beside", "side": "left", "distance_percent": 5.0},
            "centre",
            "black, the window 5 % to the left",
        ),
        ({"part": "white", "cells": 5}, "centre", "white of a 5 x 5 board"),
        ({"part": "window"}, "centre", "window"),
    ],
)
def test_what_is_measured_in_words(labels: dict[str, str | int | float], place: str, text: str) -> None:
    assert what(labels, place) == text
