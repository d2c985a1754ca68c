"""The room beside contrast and black: said in text, data, page, claims and comparison where it is not dark enough."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.log.results_run import Offset
from benchd.analysis.log.room import room_note
from benchd.analysis.log.room_note import ROOM, room_words
from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.sources import Fixed, Source
from benchd.analysis.verdicts.claim_verdicts import Claim, ClaimOutcome, check_claims
from benchd.analysis.verdicts.comparison import Sample, compare
from benchd.report.data.document import json_text, quantities, to_json
from benchd.report.data.log_reference import LogReference
from benchd.report.data.verdicts import claims_json
from benchd.report.page.compare_page import comparison_page
from benchd.report.page.results_page import Logged, report_page
from benchd.report.sections.claims import ClaimsShown, claims_section
from benchd.report.sections.comparison import comparison_sections
from benchd.report.terminal.results_text import render_text
from benchd.report.terminal.section_text import sections_text
from tests.analysis.logs import Log, xyz

LOG = LogReference("x.log", "ab" * 32)
STATED = {"calibration_percent": 1.0, "k": 2.0, "calibrated": "2026-01-01"}
SCATTER = (1.0, 1.001, 0.999, 1.0005, 0.9995)


def log_of(room: float | None, black: float, *, screen: str = "off", subtract: bool = False) -> Results:
    """A screen whose own black is ``black`` in a room that adds ``room`` to all that is read, cd/m2."""
    blocks: list[dict[str, Any]] = [
        {"name": "luminance", "kind": "luminance"},
        {"name": "contrast", "kind": "contrast", "kinds": ["sequential"]},
        {"name": "grayscale", "kind": "grayscale", "codes": [0, 128, 255], "bits": 8, "white": "target"},
    ]
    if room is not None:
        blocks.append({"name": "ambient", "kind": "ambient", "screen": screen, "subtract": subtract})
    log = Log(blocks, uncertainty=STATED, sample="plover-27/1")

    def read(step: str, labels: dict[str, Any], light: float, code: int = 0) -> None:
        log.measure(step, labels, [xyz(light * scale) for scale in SCATTER], code=code)

    added = room or 0.0
    for block, more in (("luminance", {}), ("contrast", {"kind": "sequential"})):
        read(f"{block}/white", {"level": "white", **more}, 300.0 + black + added, 255)
        read(f"{block}/black", {"level": "black", **more}, black + added)
    for code in (0, 128, 255):
        light = black + added + 300.0 * (code / 255) ** 2.2
        read(f"grayscale/code-{code}", {"code": code}, light, code)
    if room is not None:
        light, at = (room, (0.0, 0.0)) if screen == "off" else (room + black, (0.5, 0.5))
        log.measure("ambient/1", {"number": 1}, [xyz(light * scale) for scale in SCATTER], code=0, at=at)
    return analyse(log.end())


BRIGHT = "the room's light, 0.02 cd/m2, is 10 % of the screen's black, more than a twentieth: black reads high and"


def test_every_view_says_it_beside_black_and_contrast() -> None:
    results = log_of(0.02, 0.2)
    text = re.sub(r"\s+", " ", render_text(results))
    black, contrast, grey = (text.partition(start)[2] for start in (" black ", " sequential ", "grayscale ·"))
    assert BRIGHT in black.partition("how:")[0]
    assert BRIGHT in contrast.partition("how:")[0]
    assert BRIGHT in grey
    found = {path: one["why"] for path, one in quantities(json.loads(json_text(to_json(results, LOG))))}
    said = {path for path, why in found.items() if why.startswith(BRIGHT)}
    assert said == {
        "luminance/black",
        "contrast/sequential/black",
        "contrast/sequential/ratio",
        "grayscale/code-0/luminance",
    }
    page = report_page([Logged(results, LOG, ())]).replace("&#x27;", "'").replace("cd/m²", "cd/m2")
    page = page.replace("\u00a0", " ")
    opening = page.partition("The figures in short")[2].partition("</table>")[0]
    for name in ("Black", "Contrast"):
        assert BRIGHT in opening.partition(f">{name}<")[2].partition("</tr>")[0], name


@pytest.mark.parametrize(("room", "black"), [(0.0095, 0.2), (0.0, 0.2), (None, 0.2)])
def test_a_dark_room_and_a_plan_that_does_not_read_it_say_nothing(room: float | None, black: float) -> None:
    """4.75 % of black is below a twentieth, by far more than the readings' uncertainty."""
    document = to_json(log_of(room, black), LOG)
    assert not [path for path, one in quantities(document) if ROOM in one["why"]]
    assert document["blocks"]["grayscale"]["remarks"] == []


def test_what_is_subtracted_is_named_so() -> None:
    results = log_of(0.02, 0.2, subtract=True)
    assert results.of("luminance")[0].black.value == pytest.approx(0.2)
    assert room_words(results.of("luminance")[0].black.why) == (
        "the room's light, 0.02 cd/m2 (subtracted), is 10 % of the screen's black, more than a twentieth"
    )


def test_on_the_black_screen_the_room_alone_is_not_known() -> None:
    """The default reads the screen's own light too: it is always more than a twentieth of black, and says nothing."""
    words = room_words(log_of(0.02, 0.2, screen="black").of("luminance")[0].black.why)
    assert words.startswith("the room's light was read on the black screen, so whether it is below a twentieth")
    assert "inconclusive" in words


def test_a_display_that_was_not_switched_off_is_suspected() -> None:
    """The operator pressed Enter and left it on: what was read as the room is the black itself."""
    for subtract in (False, True):
        log = log_of(0.0, 0.2, subtract=subtract)
        assert ROOM not in log.of("luminance")[0].black.why
    words = room_note(_ambient(0.2), _light(0.2))
    assert words == "the room's light, 0.2 cd/m2, is all of what was read of black: " + NOT_OFF
    net = Quantity(0.005, "cd/m2", 5, None, "under", "below", "a bound", sources=_subtracted())
    assert room_note(_ambient(0.2), net).endswith(f"(subtracted), is all of what was read of black: {NOT_OFF}")


NOT_OFF = "the display may not have been off, or gives no light"


def _light(value: float, u: float = 1e-4) -> Quantity:
    return Quantity(value, "cd/m2", 5, u, sources=Fixed(((Source("readings"), u),)))


def _subtracted() -> Fixed:
    return Fixed(((Source("mean of ambient"), 1e-4),))


def _ambient(value: float | None, u: float = 1e-4, screen: str = "off") -> Offset:
    light = _light(value or 0.0, u) if value is not None else Quantity(None, "cd/m2", status="absent", why="none")
    return Offset("ambient", "m", screen, (), light, 0, "")


@pytest.mark.parametrize(
    ("ambient", "black", "floor", "said"),
    [
        # A bound on black: the room is at least this share of it, or nothing is known.
        (_ambient(0.01), Quantity(0.02, "cd/m2", 5, None, "under", "below"), 0.005, "is at least 50 % of the screen's"),
        (_ambient(0.0005), Quantity(0.02, "cd/m2", 5, None, "under", "below"), 0.005, "is not known to be below"),
        # 21 x 0.0095 = 0.1995 against 0.2: below, and not surely so.
        (_ambient(0.0095, 1e-4), _light(0.2), None, "is 5 % of the screen's black, not surely below a twentieth"),
        (_ambient(0.0095, 1e-6), _light(0.2, 1e-6), None, ""),
        # A room too dark for the meter: that it can't be read is enough only where the meter reads a twentieth.
        (_ambient(None), _light(0.2), 0.005, ""),
        (_ambient(None), _light(0.05), 0.005, "could not be read"),
        (_ambient(None), _light(0.05), None, "could not be read"),
    ],
)
def test_near_the_limit_and_below_the_meter(ambient: Offset, black: Quantity, floor: float | None, said: str) -> None:
    words = room_note(ambient, black, floor)
    assert (said in words) if said else words == ""


def claims_text(checked: list[ClaimOutcome]) -> str:
    return sections_text([claims_section(ClaimsShown("P", "S", "m", checked))], simulated=False)


def test_claims_on_contrast_and_black_say_it_in_text_and_data() -> None:
    logs = [log_of(0.02, 0.2)]
    claims = [
        Claim(figure, low, high, unit, "as written", "its words", "")
        for figure, low, high, unit in (("contrast", 1000.0, None, "1"), ("white luminance", 100.0, None, "cd/m2"))
    ]
    contrast, white = check_claims(claims, logs)
    assert contrast.outcome == "met"
    text = " ".join(claims_text([contrast]).split())
    assert BRIGHT in text
    assert (
        BRIGHT
        in claims_json(ClaimsShown("P", "S", "m", [contrast]), simulated=False)["claims"][0]["findings"][0]["why"]
    )
    assert ROOM not in claims_text([white])


def test_a_display_left_on_while_the_room_was_read_meets_no_claim() -> None:
    """Its own black was subtracted from itself: what is left of it is a bound that says nothing of the screen."""
    log = log_of(0.2, 0.0, subtract=True)
    assert log.of("contrast")[0].sequential is not None
    assert log.of("contrast")[0].sequential.ratio.bound == "above"
    (checked,) = check_claims([Claim("contrast", 1500.0, None, "1", "as written", "its words", "")], [log])
    assert checked.outcome == "inconclusive"
    text = " ".join(claims_text([checked]).split())
    assert "nothing is known of the screen's own black; note: the room's light, 0.2 cd/m2 (subtracted), is all" in text


def _samples(logs: Sequence[Results]) -> list[Sample]:
    return [Sample(f"lit-{number}", (one,), (f"{number}" * 64,)) for number, one in enumerate(logs)]


def test_comparisons_of_contrast_say_it_of_the_sample_that_it_holds_for() -> None:
    samples = _samples([log_of(0.02, 0.2), replace(log_of(0.0, 0.2), sample="plover-27/2")])
    compared = compare(samples)
    text = " ".join(sections_text(comparison_sections(compared, []), simulated=False).split())
    assert f"black luminance, contrast: lit-0: {BRIGHT}" in text
    assert "lit-1: the room's light" not in text
    page = comparison_page(compared, samples, [[LOG], [LOG]], [], [])
    page = page.replace("&#x27;", "'").replace("\u00a0", " ")
    assert f"Black luminance, contrast: lit-0: {BRIGHT}".replace("cd/m2", "cd/m²") in page
