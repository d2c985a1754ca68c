"""The text report. Display, meter and every figure are invented."""

import re
from dataclasses import replace

import pytest

from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import absent, ratio
from benchd.analysis.uncertainty.sources import EXACT, Fixed, Source
from benchd.measurements.grayscale.results import Alternative, ContrastInterval, Grayscale, GsdfResponse
from benchd.measurements.patches.show import MAX_PATCHES
from benchd.measurements.uniformity.results import UniformityLevel
from benchd.report.data.document import to_json
from benchd.report.data.held import held
from benchd.report.data.log_reference import LogReference
from benchd.report.terminal.results_text import render_text
from tests.report import made

CASES = [made.results(), made.results(simulated=True), made.interrupted()]
NIGHT = replace(made.patches(), patches=made.patches().patches[:1] * 4096)


def section(text: str, title: str) -> str:
    """The lines of one section."""
    return next(part for part in text.split("\n\n") if part.startswith(title))


def test_golden_luminance_contrast_and_map() -> None:
    text = render_text(made.results(), log=made.LOG)
    assert section(text, "luminance") == (
        "luminance · full screen, centre\n"
        "  white              384.6 cd/m2      n 3, s 0.05 %\n"
        "  black              0.352 cd/m2      n 5, s 0.6 %\n"
        "  colour of white    x 0.3131   y 0.3293   u' 0.1980   v' 0.4685   CCT 6478 K   Duv +0.0031\n"
        "  how: mean of the readings; method after INVENTED 1"
    )
    assert section(text, "uniformity") == "uniformity · 3 x 3 places, seen from the front"
    assert section(text, "uniformity white") == (
        "uniformity white · 100 % signal, code 255\n"
        "  luminance, cd/m2            deviation from centre r2c2, %     u'v' distance from centre r2c2\n"
        "        c1     c2     c3             c1      c2      c3                 c1       c2       c3\n"
        "  r1 302.1  318.4  305.9      r1  -8.51   -3.57   -7.36         r1  0.0000   0.0004  [0.0025]\n"
        "  r2 311.0  330.2  314.8      r2  -5.81    0.00   -4.66         r2  0.0000   0.0004   0.0008\n"
        "  r3 298.5  317.7  301.3      r3 [-9.60]  -3.79   -8.75         r3  0.0000   0.0004   0.0008"
    )
    # The table of steps ends at a blank line as well.
    assert section(text, "grayscale").splitlines()[1:4] == [
        "             L             target L  error  point   CCT           to white  dE00   dE00  dE00",
        "  code   cd/m2  n       s     cd/m2      %  gamma     K      Duv      u'v'  lum.  meas.  abs.",
        "     0  0.3500  3  0.06 %    0.3520  -0.57      -  6478  +0.0031    0.0012  1.22   0.14  3.05",
    ]


def test_conditions_come_first_and_are_complete() -> None:
    head = render_text(made.results(faults=2, sessions=3), log=made.LOG, width=160).split("\n\n")[0]
    for said in (
        "plover-27/1",
        "sdr-standard",
        "137 of 137 steps",
        "443 readings",
        "2 faults",
        "3 sessions",
        "IEC 61966-2-1",
        "LAPWING 0007",
        "0.005 to 3000 cd/m2",
        "HDMI-1, 1920 x 1080",
        "read back",
        "settle 0.6 s (dark 2.0 s)",
        "stable after 23.0 min",
        made.LOG.file,
        made.LOG.sha256[:16],
    ):
        assert said in head


def test_what_may_spoil_the_figures_is_said() -> None:
    odd = made.results(
        screen={"name": "HDMI-1", "readback": "none", "gamma_ramp": "changed"},
        meter={"model": "LAPWING"},
        warm_up=replace(made.results().warm_up, stable=False),  # type: ignore[type-var]
    )
    head = render_text(odd, width=160).split("\n\n")[0]
    assert "pixels not read back" in head
    assert "gamma ramp is changed" in head
    assert "specified range not known" in head
    assert "NOT stable after 23.0 min" in head


@pytest.mark.parametrize("case", CASES, ids=["real", "simulated", "interrupted"])
def test_simulated_is_the_first_and_the_last_line_or_nowhere(case: Results) -> None:
    text = render_text(case, log=made.LOG)
    lines = text.splitlines()
    assert lines[0].startswith("SIMULATED") == case.simulated
    assert lines[-1].startswith("SIMULATED") == case.simulated
    assert ("SIMULATED" in text) == case.simulated
    assert ("virtual time" in text) == case.virtual_time


@pytest.mark.parametrize("width", [40, 80, 100, 160, 300])
@pytest.mark.parametrize("case", CASES, ids=["real", "simulated", "interrupted"])
def test_no_line_is_wider_than_the_page(case: Results, width: int) -> None:
    longest = max(render_text(case, log=made.LOG, width=width).splitlines(), key=len)
    assert len(longest) <= min(max(80, width), 160)


@pytest.mark.parametrize("case", CASES, ids=["real", "simulated", "interrupted"])
def test_colour_changes_no_letter_and_text_stays_in_latin_1(case: Results) -> None:
    plain = render_text(case, log=made.LOG)
    coloured = render_text(case, log=made.LOG, colour=True)
    assert "\x1b" not in plain
    assert coloured != plain
    assert re.sub(r"\x1b\[\d+m", "", coloured) == plain
    plain.encode("latin-1")


def test_a_bound_is_rounded_down_and_says_why() -> None:
    text = render_text(made.interrupted())
    contrast = text[text.index("> 82 000:1") :].splitlines()
    assert "black is below the meter's specified range (0.005 cd/m2)" in " ".join(contrast[:4])
    assert "82 400" not in text
    assert "inf" not in text


def test_absent_results_and_incomplete_grids_give_their_reasons() -> None:
    text = render_text(made.interrupted(), width=160)
    assert "grayscale: no step was measured" in text
    assert "incomplete: cells r3c2, r3c3 were not measured" in text
    assert "absent: mean, non-uniformity" in text
    assert "not ended: 120 of 137 steps" in text
    assert "r3 298.5    -" in text
    assert not re.search(r"\b(nan|inf|None)\b", text)


def test_all_cells_of_a_map_have_the_digits_of_their_common_scatter() -> None:
    block = made.uniformity()
    level = block.levels[0]
    lucky, *rest = level.grid[0]
    lucky = replace(lucky, luminance=lucky.luminance._replace(value=302.1234, s=1e-6))
    unlucky = replace(rest[0], luminance=rest[0].luminance._replace(value=318.4321, s=0.3))
    grid = ((lucky, unlucky, rest[1]), *level.grid[1:])
    text = render_text(made.results(uniformity=(replace(block, levels=(replace(level, grid=grid),)),)))
    assert "r1 302.1  318.4  305.9 " in text


def test_a_grid_without_any_cell_has_no_map() -> None:
    block = made.uniformity(without=tuple(f"r{r}c{c}" for r in (1, 2, 3) for c in (1, 2, 3)))
    text = section(render_text(made.results(uniformity=(block,))), "uniformity white")
    assert "c1 " not in text
    assert "absent: mean" in text


def test_a_grid_without_a_centre_has_only_the_map_of_luminance() -> None:
    block = made.uniformity()
    nothing = absent("%", "a grid of 4 x 4 has no centre cell")
    grid = tuple(
        tuple(replace(cell, deviation=nothing, delta_uv=nothing, delta_e=nothing) for cell in row)
        for row in block.levels[0].grid
    )
    level: UniformityLevel = replace(block.levels[0], grid=grid, centre=None, worst_deviation=nothing, worst_place=None)
    text = section(render_text(made.results(uniformity=(replace(block, levels=(level,)),))), "uniformity white")
    assert "luminance, cd/m2" in text
    assert "deviation from centre" not in text


def test_a_doubtful_reading_is_marked_in_tables_and_named_in_lines() -> None:
    block = made.luminance()
    shaky = replace(block, white=block.white._replace(status="unstable", why="the light changed while reading"))
    text = render_text(made.results(luminance=(shaky,)), width=160)
    assert "384.6 cd/m2      n 3, s 0.05 %, flagged unstable by the meter   the light changed while reading" in text
    steps = made.grayscale().steps
    over = replace(steps[2], luminance=steps[2].luminance._replace(status="over", bound="above", s=None))
    gray = replace(made.grayscale(), steps=(*steps[:2], over))
    assert re.search(r"^ +255 +> 380 ", render_text(made.results(grayscale=(gray,))), re.MULTILINE)
    soft = replace(steps[1], luminance=steps[1].luminance._replace(status="unstable"))
    gray = replace(made.grayscale(), steps=(steps[0], soft, steps[2]))
    assert "!82.91" in render_text(made.results(grayscale=(gray,)))


def test_a_skew_contrast_is_shown_with_both_ends_and_no_other_interval() -> None:
    block = made.contrast()
    assert block.sequential is not None
    black = made.q(0.3, "cd/m2")._replace(sources=Fixed(((Source("readings"), 0.08),)))
    skew = ratio(made.q(300.0, "cd/m2")._replace(sources=EXACT), black)
    sequential = replace(block.sequential, ratio=skew)
    lines = render_text(made.results(contrast=(replace(block, sequential=sequential),)), width=160).splitlines()
    # By hand: 300 / (0.3 +- 1.96 x 0.08).
    assert "1000:1 (660 to 2090)" in next(line for line in lines if line.startswith("  sequential"))


def test_each_delta_e_names_its_white_adaptation_and_formula_and_each_gamma_its_rule() -> None:
    text = render_text(made.results(), width=160)
    for convention, short in (("white_luminance", "lum."), ("white_measured", "meas."), ("absolute", "abs.")):
        said = f"dE00 {short}: Lab white: white of {convention}. Adaptation: no adaptation. CIEDE2000 after"
        assert said in text
    assert "gamma, white fixed: rule True" in text
    assert "gamma, free slope: rule False" in text
    assert text.index("white_luminance.") < text.index("absolute.")


def test_greys_of_a_window_say_so_in_text_and_data() -> None:
    gray = replace(made.grayscale(), patch="10 % window, surround 0 %")
    log = made.results(grayscale=(gray,))
    assert "3 steps, 10 % window, surround 0 %, against: sRGB curve" in render_text(log)
    held_for = {path: text for path, _, text in held(to_json(log, LogReference("a.log", "0" * 64)))}
    assert "patch 10 % window, surround 0 %" in held_for["grayscale/gamma_fits/white_fixed/gamma"]


def test_the_convention_that_the_plan_chose_comes_first() -> None:
    gray: Grayscale = replace(made.grayscale(), primary="absolute")
    text = render_text(made.results(grayscale=(gray,)))
    assert text.index("absolute.") < text.index("white_luminance.")


def test_the_alternative_black_and_the_contrast_response() -> None:
    interval = ContrastInterval(0, 17, made.q(0.0421), made.q(0.0401), made.q(4.98, "%"))
    gray = made.grayscale()
    other = Alternative("black at its bound, 0.005 cd/m2", gray.steps, gray.delta_e)
    response = GsdfResponse("method after INVENTED 6", (interval,), made.q(4.98, "%"), (0, 17))
    text = render_text(made.results(grayscale=(replace(gray, alternative=other, gsdf=response),)))
    assert "the same with another black: black at its bound, 0.005 cd/m2" in text
    assert re.search(r"contrast response +\+4\.98 % .*codes 0 to 17", text)
    assert re.search(r"0 to 17 +0\.0421 +0\.0401 +\+4\.98", text)


def test_a_narrow_page_keeps_the_columns_that_matter() -> None:
    table = section(render_text(made.results(), width=60), "grayscale")
    assert "CCT" in table
    assert "Duv" in table
    assert "balance" not in table
    assert "balance" in section(render_text(made.results(), width=180), "grayscale")


def test_long_lists_of_patches_are_cut_and_said_so() -> None:
    text = section(render_text(made.results(patches=(NIGHT,))), "patches")
    assert len(text.splitlines()) < MAX_PATCHES + 6
    assert f"and {4096 - MAX_PATCHES} more; the data have them all" in text
