"""An empty file for readings that are to be taken elsewhere: a line for each, and what is to be on the screen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from benchd.plan.step import Series, Step
from benchd.run.log.given_readings import AFTER, STATUS, STEP, TRISTIMULUS

FIRST_SECONDS = 10
MOMENTS_S = (30.0, 60.0, 300.0, 600.0, 1800.0)
"""When a window's light is reported, besides the end."""


def template(steps: Sequence[Step]) -> str:
    """A file with a line for every reading of the plan, its light still empty."""
    over_time = any(step.series is not None for step in steps)
    columns = (STEP, *TRISTIMULUS, STATUS, *((AFTER,) if over_time else ()))
    lines = [
        "# One line a reading: X, Y, Z in cd/m2 (or name the columns Y,x,y; or Y alone, where luminance is enough).",
        "# Lines may be left empty, or doubled.",
        ",".join(columns),
    ]
    for step in steps:
        if step.kind == "measure":
            lines.append(f"# {step.id}: {_words(step)}")
            blank = "," * (len(columns) - 1)
            name = f'"{step.id}"' if "," in step.id else step.id
            if step.series is None:
                lines += [f"{name}{blank}"] * step.readings
            else:
                lines.append(f"# {_series_words(step.series)}")
                lines += [f"{name}{blank}{after_s:g}" for after_s in _times(step.series)]
    return "\n".join(lines) + "\n"


def _times(series: Series) -> Iterator[float]:
    """Every second of the first ten, and the moments that results report, to the end."""
    first = [float(second) for second in range(FIRST_SECONDS + 1)]
    yield from sorted({moment for moment in (*first, *MOMENTS_S, series.for_s) if moment <= series.for_s})


def _series_words(series: Series) -> str:
    code = ",".join([str(series.black_code)] * 3)
    return (
        f"first {series.black_s:g} s of code {code} over the whole screen; {AFTER}: seconds from the window's "
        "appearance to the beginning of the reading. Write the true ones; in the first ten seconds read as often as "
        "the meter can"
    )


def _words(step: Step) -> str:
    """What is to be on the screen, where it is, and where the meter is."""
    patch = step.patch
    code = ",".join(str(part) for part in patch.code)
    ground = ",".join(str(part) for part in patch.surround)
    shape = {
        "field": f"code {code} over the whole screen",
        "window": f"code {code} in a window of {patch.area_percent:g} % of the screen in its middle, on {ground}",
        "spot": f"code {code} in a window of {patch.area_percent:g} % of the screen, on {ground}, with its middle at "
        f"{_at(patch.at)}",
        "checkerboard": f"{patch.columns} x {patch.rows} checkerboard of {code} and {ground}"
        + (", inverse" if patch.inverse else ""),
    }.get(patch.kind, f"code {code}")
    settings = "".join(f", {name}={value}" for name, value in step.settings)
    return f"{shape}, meter at {step.place} ({_at(step.at)}){settings}"


def _at(at: tuple[float, float]) -> str:
    return f"{at[0]:g}, {at[1]:g} of width and height"
