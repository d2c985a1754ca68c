"""The chromaticity diagram, CIE 1976 u', v': primaries and white that were measured, the target and its coverage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from benchd.analysis.planckian import UV
from benchd.report.locus import LOCUS, uv_prime
from benchd.report.plots import DASHES, MARKS, Ink, Plot, legend

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Gamut:
    """What is drawn of one display, or of a colour space: CIE 1931 x, y.

    ``primaries`` red, green, blue, or empty; ``points`` more colours, such as a chart or the grey steps.
    """

    label: str
    primaries: tuple[Point, ...] = ()
    white: Point | None = None
    points: tuple[Point, ...] = ()


def chromaticity_plot(
    measured: Sequence[Gamut], spaces: Sequence[Gamut], *, name: str, words: str, simulated: bool
) -> Plot | None:
    """The diagram; None when there is nothing measured to be put into it. ``words`` end the text in its place."""
    if not any(one.primaries or one.white or one.points for one in measured):
        return None

    def draw(figure: Any) -> None:
        axes = figure.subplots()
        axes.set_aspect("equal")
        rim = [uv_prime(x, y) for _, x, y in LOCUS]
        axes.plot(*zip(*rim, rim[0], strict=True), color=Ink.rule, linewidth=1.1, zorder=1)
        for nm, x, y in LOCUS:
            if nm in (460, 480, 500, 520, 540, 560, 580, 600, 620):
                u, v = uv_prime(x, y)
                left = nm <= 515
                axes.annotate(
                    str(nm),
                    (u, v),
                    (-4 if left else 2, 1 if left else 4),
                    textcoords="offset points",
                    ha="right" if left else "left",
                    va="center" if left else "bottom",
                    fontsize=7,
                    color=Ink.faint,
                )
                axes.plot([u], [v], ".", color=Ink.rule, markersize=3)
        # 2 500 K to 20 000 K: where whites are. Rows are reciprocal megakelvin in steps of 5.
        planck = [(u, 1.5 * v) for u, v in UV[10:81]]
        axes.plot(*zip(*planck, strict=True), color=Ink.rule, linewidth=0.9, zorder=1)
        for space, dash in zip(spaces, ((0, (4, 2)), (0, (1, 1.2)), (0, (6, 1.5, 1, 1.5))), strict=False):
            _triangle(axes, space, Ink.target, dash, "+", 1.1)
        for index, one in enumerate(measured):
            colour = Ink.series[index % len(Ink.series)]
            _triangle(axes, one, colour, DASHES[index % len(DASHES)], MARKS[index % len(MARKS)], 1.6)
            if one.points:
                u, v = zip(*(uv_prime(*point) for point in one.points), strict=True)
                axes.plot(u, v, ".", color=colour, markersize=3.5, zorder=4)
        axes.set_xlim(-0.03, 0.66)
        axes.set_ylim(-0.02, 0.64)
        axes.set_xlabel("u′")
        axes.set_ylabel("v′")
        legend(axes, columns=2)

    text = f"CIE 1976 u'v' chromaticity diagram. {words}".strip()
    return Plot(f"{name}-chromaticity", "Chromaticity", text, draw, simulated, height_in=4.9)


def _triangle(axes: Any, gamut: Gamut, colour: str, dash: Any, mark: str, width: float) -> None:
    label: str | None = gamut.label
    if gamut.primaries:
        corners = [uv_prime(*point) for point in (*gamut.primaries, gamut.primaries[0])]
        axes.plot(
            *zip(*corners, strict=True),
            color=colour,
            linestyle=dash,
            linewidth=width,
            marker=mark,
            label=label,
            zorder=3,
        )
        label = None
    if gamut.white:
        u, v = uv_prime(*gamut.white)
        axes.plot([u], [v], mark, color=colour, fillstyle="none", markersize=6.5, label=label, zorder=4)
