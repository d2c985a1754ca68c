"""What was found of a meter, for a terminal: how well its bench repeats itself, and a correction of it."""

from __future__ import annotations

import math

from benchd.analysis.meter_model.correction import Fit, corrected, influences, xyz_from
from benchd.analysis.uncertainty.rounding import plain_text
from benchd.distributions import t_quantile
from benchd.measurements.declared_figure import plain_name
from benchd.profile.made_files import CorrectionFile, RepeatabilityFile, RepeatedFigure
from benchd.report.digits import number

LARGE = 10.0
"""A pure number from here on is a contrast, whose standard deviation is printed in per cent."""


def repeatability_text(file: RepeatabilityFile) -> str:
    """The whole screen."""
    times = "left in its place" if file.placements == 1 else f"put on {file.placements} times"
    lines = [
        *(["SIMULATED"] if file.simulated else []),
        f"Bench {file.bench}, meter {file.meter.model} {file.meter.serial_number}: plan {file.plan} run {file.runs} "
        f"times, the meter {times}",
        "",
        f"{'':34}{'mean':>12}  {'one run after another':>24}  {'meter put on anew':>24}",
        f"{'':34}{'':12}  {'s_r':>11}{'limit r':>13}  {'s_R':>11}{'limit R':>13}",
    ]
    for one in file.figures:
        lines.append(
            f"{plain_name(one.name)[:33]:34}{_mean(one):>12}  {_share(one, one.s_r):>11} {_share(one, one.limit_r):>12}"
            f"  {_share(one, one.s_R):>11} {_share(one, one.limit_R):>12}".rstrip()
        )
    lines.append("")
    for text, percent, dof in (
        ("Between runs, beyond the standard deviation of readings", file.between_runs_percent, file.between_runs_dof),
        ("Putting the meter on anew adds", file.placement_percent, file.placement_dof),
    ):
        if percent is not None:
            degrees = "degree" if dof == 1 else "degrees"
            lines.append(f"{text}: {percent:.2g} % of luminance ({dof} {degrees} of freedom)")
    if file.placements == 1:
        lines.append("What putting the meter on anew adds is not known yet: repeat with --placements.")
    lines += [
        "how: one-way analysis of variance after ISO 5725-2 (from memory); two single runs differ by more than",
        "  r (meter left in place) or R (put on anew) in 5 % of cases, as s_r and s_R are known so far;",
        "  in % of the mean where % stands, else absolute, in the figure's own unit (x, y, u', v' and Duv have none);",
        "  the means have no interval here: s and the limits say how far single runs lie apart",
    ]
    return "\n".join(lines) + "\n"


def _mean(one: RepeatedFigure) -> str:
    unit = (":1" if one.mean > LARGE else "") if one.unit == "1" else f" {one.unit}"
    return f"{number(one.mean)}{unit}"


def _share(one: RepeatedFigure, value: float | None) -> str:
    if value is None:
        return "-"
    if one.mean > 0.0 and (one.unit in ("cd/m2", "K") or (one.unit == "1" and one.mean > LARGE)):
        return f"{plain_text(100.0 * value / abs(one.mean))} %"
    unit = {"1": "", "%": " points"}.get(one.unit, f" {one.unit}")
    return f"{plain_text(value)}{unit}"


METHODS = {
    "four-colour": "four-colour method after Ohno and Hardis (1997)",
    "least-squares": "least squares on X, Y, Z after ASTM E1455",
}

LUMINANCE = {
    "reference": "read as the reference meter reads it: its scale, and the uncertainty of that",
    "own": "left as the meter reads it: its own scale",
}


def correction_text(file: CorrectionFile, made: Fit) -> str:
    """The whole screen."""
    who, reference = file.meter, file.reference_meter
    lines = [
        *(["SIMULATED"] if file.simulated else []),
        f"Correction {file.correction} of meter {who.model} {who.serial_number} on {file.technology} displays",
        f"{METHODS[file.method]}, against {reference.model} {reference.serial_number}; "
        f"made {file.made}, good until {file.expires}",
        "",
        f"{'off by':12}{'colour, u′v′':>21}{'luminance':>24}",
        f"{'':12}{'as read':>10}{'corrected':>11}{'as read':>13}{'corrected':>11}",
    ]
    for one in made.residuals:
        lines.append(
            f"{one.name:12}{one.delta_uv_before:10.4f}{one.delta_uv:11.4f}"
            f"{one.luminance_percent_before:+11.2f} %{one.luminance_percent:+9.2f} %"
        )
    lines += ["", "matrix      " + "  ".join(f"{one:+.6f}" for one in made.matrix[0])]
    lines += [f"{'':12}" + "  ".join(f"{one:+.6f}" for one in row) for row in made.matrix[1:]]
    lines += ["", f"luminance   {LUMINANCE[file.luminance]}", "", *_surety(made)]
    return "\n".join(lines) + "\n"


def _surety(made: Fit) -> list[str]:
    if made.covariance is None:
        return ["Its uncertainty is not known: there is one reading of a colour; take several of each."]
    white = corrected(made.matrix, xyz_from(0.3127, 0.3290, 100.0))
    k = t_quantile(0.975, max(1, made.dof))
    u_y = u_u = u_v = 0.0
    bottom = white[0] + 15.0 * white[1] + 3.0 * white[2]
    for factor in influences(made.covariance, made.matrix):
        dx, dy, dz = corrected(factor, white)
        moved = dx + 15.0 * dy + 3.0 * dz
        u_y += dy * dy
        u_u += (4.0 * dx / bottom - 4.0 * white[0] * moved / bottom**2) ** 2
        u_v += (9.0 * dy / bottom - 9.0 * white[1] * moved / bottom**2) ** 2
    placed = "How both meters stood is not part of it: what the bench states of placement is added to figures."
    if made.placement_percent is not None:
        placed = (
            f"How both meters stood is part of it: {made.placement_percent:.2g} % of luminance, standard uncertainty."
        )
    return [
        f"The matrix is unsure by ± {k * 100.0 * math.sqrt(u_y) / white[1]:.2g} % of luminance, "
        f"± {k * math.sqrt(u_u):.1g} in u′ and ± {k * math.sqrt(u_v):.1g} in v′ of a white",
        f"(95 %, k = {k:.2f}, {made.dof} degrees of freedom). The reference meter's own uncertainty comes on top.",
        placed,
    ]
