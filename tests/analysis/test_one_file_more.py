"""One YAML file is one more colour space, one CSV file one more chart: through to the figures. All invented."""

from __future__ import annotations

from pathlib import Path

import pytest
from shapely.geometry import Polygon

from benchd.profile.colour_codes import uv_prime
from benchd.report.terminal.results_text import render_text
from tests.analysis.colour_logs import measured, perfect

HERON = {"red": (0.66, 0.33), "green": (0.28, 0.65), "blue": (0.15, 0.05)}
SRGB = [(0.64, 0.33), (0.30, 0.60), (0.15, 0.06)]  # IEC 61966-2-1


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for folder in ("spaces", "charts"):
        (tmp_path / "profiles" / folder).mkdir(parents=True)
    red, green, blue = (list(HERON[name]) for name in ("red", "green", "blue"))
    (tmp_path / "profiles" / "spaces" / "heron.yaml").write_text(
        "space: heron\nlabel: Heron (invented)\nsource: invented\nwhite: [0.31, 0.33]\n"
        f"primaries: {{red: {red}, green: {green}, blue: {blue}}}\ncurve: {{kind: power, exponent: 2.2}}\n"
    )
    (tmp_path / "profiles" / "charts" / "moor.csv").write_text(
        "# source: invented\n# white: 0.3457 0.3585\nname,L,a,b\nmoss,40,-20,20\nrust,45,30,30\n"
    )
    monkeypatch.chdir(tmp_path)


@pytest.mark.usefixtures("shelf")
def test_a_new_space_and_a_new_chart_reach_the_results() -> None:
    blocks = "- gamut: {}\n- colours: {chart: moor, space: heron}"
    found = measured(blocks, perfect("srgb"))
    (row,) = (one for one in found.of("gamut")[0].coverage if one.space == "heron")
    corners = list(HERON.values())
    for device, space, figure in (
        (SRGB, corners, row.coverage_xy),
        ([uv_prime(*corner) for corner in SRGB], [uv_prime(*corner) for corner in corners], row.coverage_uv),
    ):
        wanted = 100.0 * Polygon(device).intersection(Polygon(space)).area / Polygon(space).area
        assert figure.value == pytest.approx(wanted, abs=1e-6)  # another library's clipping: shapely
    (colours,) = found.of("colours")
    assert (colours.space, colours.source) == ("heron", "invented")
    assert [one.name for one in colours.patches] == ["moss", "rust"]
    assert (colours.accuracy[0].mean.value or 0.0) > 1.0  # an sRGB screen is no Heron
    (heron,) = measured(blocks, perfect("heron")).of("colours")
    assert heron.accuracy[0].maximum.value == pytest.approx(0.0, abs=1e-9)
    text = render_text(found, width=80)
    assert "Heron (invented)" in text
    assert "moss" in text
