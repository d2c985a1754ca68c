"""One label, one definition: the gamma of a step, RGB balance, additivity and the target that judges."""

from __future__ import annotations

import csv
import io
import json
import math
import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.colour import tone_curves as curves
from benchd.analysis.results import Results
from benchd.measurements.grayscale.plots import plots as gray_plots
from benchd.measurements.grayscale.results import LOCAL_RULE, POINT_RULE, Grayscale
from benchd.report.data.csv_rows import csv_text
from benchd.report.data.document import json_text, to_json
from benchd.report.data.log_reference import LogReference
from benchd.report.data.results_schema import results_schema
from benchd.report.drawing.axes import Axes, Curve
from benchd.report.page.results_page import Logged, report_page
from benchd.report.terminal.results_text import render_text
from tests.analysis.logs import Log, xyz
from tests.report import logged, made

CODES = (0, 26, 51, 77, 102, 128, 153, 179, 204, 230, 255)
LOG = LogReference("x.log", "ab" * 32)


@pytest.fixture(scope="module")
def results() -> Results:
    return analyse(logged.records())


def analysed(light: Callable[[int], list[float]], noise: float = 0.0004, **head: Any) -> Results:
    block = {"name": "grayscale", "kind": "grayscale", "codes": list(CODES), "bits": 8, "white": "target"}
    log = Log([block], **head)
    for code in CODES:
        one = light(code)
        readings = [[part * scale for part in one] for scale in (1.0, 1.0 + noise, 1.0 - noise)]
        log.measure(f"grayscale/code-{code}", {"code": code}, readings, code=code)
    return analyse(log.end())


def grey(results: Results) -> Grayscale:
    return results.of("grayscale")[0]


def step_rows(text: str) -> dict[int, list[str]]:
    """Code -> cells of the table of grey steps."""
    block = text.partition("\ngrayscale ·")[2].partition("\n\n")[0]
    return {int(row.split()[0]): row.split() for row in block.splitlines() if re.match(r" +\d+ ", row)}


def test_the_gamma_of_a_step_is_the_same_number_in_every_view(results: Results) -> None:
    """Local and point gamma of one step differ, 2.20 against 2.03: no view shows one under the other's name."""
    (step,) = [one for one in grey(results).steps if one.code == 26]
    assert step.point_gamma.value is not None
    assert abs((step.local_gamma.value or 0.0) - step.point_gamma.value) > 0.02
    shown = f"{step.point_gamma.value:.2f}"

    text = render_text(results, width=160)
    heads = text.partition("\ngrayscale ·")[2].splitlines()[1:3]
    at = heads[1].index("gamma")
    assert heads[0][at : at + 5] == "point"
    assert "local" not in heads[1]
    assert step_rows(text)[26].count(shown) == 1
    assert POINT_RULE in " ".join(text.split())

    page = report_page([Logged(results, LOG, ())])
    assert "Point gamma" in page
    assert f">{step.point_gamma.value:.3f}" in page, "to the digits of its uncertainty"
    assert "ln(L / Lwhite) / ln V, black not subtracted" in page

    (plot,) = [one for one in gray_plots([("", grey(results))], name="g", simulated=False) if one.name == "g-gamma"]
    axes = Axes()
    plot.draw(axes)
    measured = next(one for one in axes.items if isinstance(one, Curve) and one.label == "measured")
    drawn = {round(x, 6): y for x, y in measured.points}
    assert drawn[round(100 * 26 / 255, 6)] == pytest.approx(step.point_gamma.value)
    assert axes.y.label == "point gamma, ln(L / Lwhite) / ln V"
    assert "ln(L / Lwhite) / ln V, black not subtracted" in plot.text

    rows = {row["path"]: row for row in csv.DictReader(io.StringIO(csv_text(to_json(results, LOG))))}
    assert float(rows["grayscale/code-26/point_gamma"]["value"]) == step.point_gamma.value
    assert POINT_RULE in rows["grayscale/code-26/point_gamma"]["why"]
    assert LOCAL_RULE in rows["grayscale/code-26/local_gamma"]["why"]
    assert not [path for path in rows if path.startswith("grayscale/code-26/") and path.endswith("/gamma")]


M = np.array([[0.412391, 0.357584, 0.180481], [0.212639, 0.715169, 0.072192], [0.019331, 0.119195, 0.950532]])
"""Linear sRGB to XYZ, from the primaries of IEC 61966-2-1 by the method of SMPTE RP 177."""


def test_rgb_balance_is_the_colour_alone() -> None:
    """A grey of the right colour and the wrong luminance is in balance; a cast is what M^-1 XYZ / Y says."""

    def light(code: int) -> list[float]:
        x, y = (0.3300, 0.3290) if code == 179 else (0.3127, 0.3290)
        wrong = 1.3 if code == 128 else 0.8 if code == 77 else 1.0
        return xyz(wrong * float(200.0 * curves.srgb(code / 255) + 0.2), x, y)

    steps = {one.code: one for one in grey(analysed(light)).steps}
    for code in (0, 77, 128):
        assert [one.value for one in steps[code].rgb_balance] == pytest.approx([1.0, 1.0, 1.0], abs=1e-6), code
    assert steps[128].luminance_error.value == pytest.approx(30.0, abs=0.6)
    cast = [one.value or 0.0 for one in steps[179].rgb_balance]
    expected = np.linalg.inv(M) @ np.array([0.3300 / 0.3290, 1.0, (1 - 0.3300 - 0.3290) / 0.3290])
    assert cast == pytest.approx(expected.tolist(), abs=2e-5)
    assert float(M[1] @ cast) == pytest.approx(1.0, abs=1e-5), "equal luminance"


def test_what_the_meter_s_scale_does_is_not_in_the_balance() -> None:
    head = {"meter": {"model": "invented", "serial_number": "1"}}
    alone = {"calibration_percent": 5.0, "k": 2.0, "calibrated": "2026-01-01"}
    scale = analysed(lambda code: xyz(100.0 * float(curves.srgb(code / 255)) + 0.1), uncertainty=alone, **head)
    step = next(one for one in grey(scale).steps if one.code == 128)
    assert step.luminance.stated is not None
    assert step.luminance.stated.expanded / (step.luminance.value or 1.0) > 0.04
    for one in step.rgb_balance:
        assert one.stated is not None
        assert one.stated.expanded < 1e-3


def test_balance_needs_no_white_and_says_so_in_every_view(results: Results) -> None:
    steps = grey(analyse(logged.records(without=("grayscale/code-255",)))).steps
    assert steps[5].rgb_balance[0].plain
    assert not steps[5].luminance_error.present
    assert "over the step's own luminance" in report_page([Logged(results, LOG, ())]).replace("&#x27;", "'")
    plots = {plot.name: plot for plot in gray_plots([("", grey(results))], name="g", simulated=False)}
    assert "at the luminance of the step" in plots["g-balance"].text


def views(results: Results) -> tuple[str, str, list[str]]:
    """Text, page, and the remarks in JSON."""
    text = " ".join(render_text(results).split())
    page = re.sub(r"&#x27;|&apos;", "'", report_page([Logged(results, LOG, ())]))
    return text, page, json.loads(json_text(to_json(results, LOG)))["blocks"]["grayscale"]["remarks"]


def test_gamma_fits_that_disagree_are_remarked_on() -> None:
    """A curve that is no power law: 2.4 at the top, flatter below."""

    def light(code: int) -> list[float]:
        v = code / 255
        return xyz(200.0 * (0.7 * v**2.6 + 0.3 * v**1.2) + 0.05)

    text, page, remarks = views(analysed(light))
    (remark,) = remarks
    assert re.search(r"the two gamma fits disagree: \d\.\d\d through white, \d\.\d\d with a free slope", remark)
    # The same two lines through the sRGB curve of IEC 61966-2-1 by numpy alone.
    x = np.log(np.array(CODES[1:-1]) / 255)
    y = np.log(curves.srgb(np.exp(x)))
    fixed, free = float(np.linalg.lstsq(x[:, None], y, rcond=None)[0][0]), float(np.polyfit(x, y, 1)[0])
    assert f"the target's own curve at these codes: {fixed:.2f} and {free:.2f}" in remark
    assert remark in text
    assert remark[1:].replace("cd/m2", "cd/m²") in page.replace("\u00a0", " ")
    assert views(analysed(lambda code: xyz(200.0 * (code / 255) ** 2.2 + 0.05)))[2] == []


def test_fits_whose_difference_is_within_its_uncertainty_are_not_called_different() -> None:
    """What noisy readings move apart says nothing of the display."""

    def light(code: int) -> list[float]:
        v = code / 255
        return xyz(200.0 * (0.8 * v**2.3 + 0.2 * v**1.3) + 0.05)

    sure, unsure = analysed(light), analysed(light, noise=0.2)
    assert [one for one in grey(sure).remarks if "disagree" in one]
    fixed, free = (one.gamma.value for one in grey(unsure).gamma_fits)
    assert math.isclose(fixed or 0.0, (grey(sure).gamma_fits[0].gamma.value or 1.0), rel_tol=1e-6)
    assert abs((fixed or 0.0) - (free or 0.0)) > 0.05
    assert not [one for one in grey(unsure).remarks if "disagree" in one]


def test_a_white_darker_than_a_grey_is_remarked_on() -> None:
    """As a panel with a power limit, or one that clips, may be."""

    def light(code: int) -> list[float]:
        return xyz({230: 260.0, 204: 205.0, 255: 240.0}.get(code, 320.0 * (code / 255) ** 2.2 + 0.05))

    text, page, remarks = views(analysed(light))
    remark = next(one for one in remarks if "darker" in one)
    assert remark.startswith("white, code 255, is darker than the grey of code 230: 240 against 260 cd/m2")
    assert remark in text
    assert remark[1:].replace("cd/m2", "cd/m²") in page.replace("\u00a0", " ")
    same = analysed(lambda code: xyz(240.0 if code == 255 else 240.01 if code == 230 else 0.1 + code / 2))
    assert not [one for one in grey(same).remarks if "darker" in one], "within the standard deviation"


def test_additivity_says_what_its_value_is() -> None:
    """The schema said mixed over primaries, and the value is primaries over mixed."""
    about = results_schema()["$defs"]["Additivity"]["description"]
    assert about.startswith("Sum of the luminances of the primaries over that of their mixed colour")
    assert "(L_R + L_G + L_B - 3 Lblack) / (Lwhite - Lblack)" in about


def test_the_schema_defines_the_gamma_of_a_step_and_the_balance() -> None:
    about = results_schema()["$defs"]["GrayStep"]["description"]
    assert "point_gamma      the gamma of the step: ln(L / Lwhite) / ln V, black not subtracted" in about
    assert "over the step's own luminance" in about


def test_an_sdr_log_names_its_target_as_before() -> None:
    found = to_json(made.results(), made.LOG)
    assert found["judged_by"].startswith("srgb: sRGB curve after IEC 61966-2-1")
    assert "target    srgb: sRGB curve" in render_text(made.results())
