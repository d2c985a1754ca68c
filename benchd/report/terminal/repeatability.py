"""How well a bench repeats itself, for a terminal."""

from __future__ import annotations

from benchd.analysis.uncertainty.rounding import plain_text
from benchd.profile.made_files import RepeatabilityFile, RepeatedFigure
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
            f"{one.name[:33]:34}{_mean(one):>12}  {_share(one, one.s_r):>11} {_share(one, one.limit_r):>12}"
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
        "  r (meter left in place) or R (put on anew) in 5 % of cases, as s_r and s_R are known so far",
    ]
    return "\n".join(lines) + "\n"


def _mean(one: RepeatedFigure) -> str:
    unit = "" if one.unit == "1" else f" {one.unit}"
    return f"{number(one.mean)}{unit}"


def _share(one: RepeatedFigure, value: float | None) -> str:
    if value is None:
        return "-"
    if one.mean > 0.0 and (one.unit in ("cd/m2", "K") or (one.unit == "1" and one.mean > LARGE)):
        return f"{plain_text(100.0 * value / abs(one.mean))} %"
    unit = {"1": "", "%": " points"}.get(one.unit, f" {one.unit}")
    return f"{plain_text(value)}{unit}"
