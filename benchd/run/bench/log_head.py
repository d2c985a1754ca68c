"""What a log's head states of the bench, so that analysis needs no profile.

The meter's resolution, its correction, what was found when this bench was repeated, and the display's flicker.
"""

from __future__ import annotations

import math
from hashlib import sha256

from benchd.instruments.answers import UNITS_CD_M2
from benchd.instruments.meter import MeterIdentity
from benchd.profile import profile_store as library
from benchd.profile.display import Flicker
from benchd.profile.made_files import RepeatabilityFile, repeatability_path
from benchd.profile.stated_meter import FORMS, Rule
from benchd.run.job import BenchJob
from benchd.run.log.records import Body


def steps_of_light(head: Body, xyz: tuple[float, float, float]) -> tuple[float, float, float] | None:
    """The stated steps of X, Y, Z in cd/m2 at a light; None where ``head``, as `resolution_head` makes it, states none.

    Of a meter that sends Y and chromaticities, X and Z move by all three (x and y bring both u' and v' about).
    """
    stated = head.get("stated")
    if not stated or not stated["rules"].get("Y"):
        return None
    rules, unit = stated["rules"], stated["unit_cd_m2"]
    light = [unit * _step(rules["Y"], abs(value) / unit) for value in xyz]
    total = sum(xyz)
    colour = 0.0
    if total > 0.0 and "X" not in rules:
        colour = (
            sum(_step(rule, 0.3) for name, rule in rules.items() if name != "Y" and rule) * total / max(xyz[1], 1e-9)
        )
    return (light[0] + colour * xyz[0], light[1], light[2] + colour * xyz[2])


def _step(rule: Rule, size: float) -> float:
    """Of a rule as a log keeps it, at a value, both in the unit sent."""
    if "digits" in rule:
        decade = math.floor(math.log10(size)) if size > 0.0 else -math.inf
        return max(10.0 ** (decade + 1 - int(rule["digits"])), float(rule.get("least") or 0.0))
    return next((float(step) for up_to, step in rule["ranges"] if up_to is None or size <= up_to), 0.0)


def resolution_head(bench_job: BenchJob | None) -> Body:
    """``sent``: quantities of the meter's answers, and what their light may be in, in cd/m2.

    ``stated``: the rule of each quantity (None: none is stated), the unit of its light in cd/m2, and who states it;
    None where neither does.
    """
    quantities: tuple[str, ...] = FORMS[0]
    units_cd_m2 = [1.0]
    stated, by = None, ""
    if bench_job is not None:
        if (dialect := bench_job.dialect) is not None:
            quantities = dialect.measure.quantities
            names = [dialect.unit] if dialect.unit is not None else sorted(set(dialect.units.values()))
            units_cd_m2 = [dialect.scale * UNITS_CD_M2[name] for name in names]
            stated, by = dialect.resolution, f"dialect {dialect.name}"
        if bench_job.bench.instruments.meter.resolution is not None:
            stated, by = bench_job.bench.instruments.meter.resolution, f"bench {bench_job.bench.bench}"
    return {
        "sent": {"quantities": list(quantities), "units_cd_m2": units_cd_m2},
        # Where answers name their unit, the coarsest that they may be in.
        "stated": stated and {"rules": stated.rules(quantities), "unit_cd_m2": max(units_cd_m2), "by": by},
    }


def load_repeated(bench: str) -> RepeatabilityFile | None:
    """What is kept of ``bench``; None where it was never repeated. Raises `InputError` for a file that is not right."""
    path = repeatability_path(bench)
    return library.load_repeatability(library.read_text(path), str(path)) if path.is_file() else None


def repeated_head(found: RepeatabilityFile | None, meter: MeterIdentity) -> Body | None:
    """It as the first record of a log keeps it; None where it was found with another meter than answers now."""
    if found is None or not found.is_for(model=meter.model, serial_number=meter.serial_number):
        return None
    return found.head()


def correction_head(job: BenchJob) -> Body | None:
    """The correction as the first record of a log keeps it; None without one."""
    if job.correction is None:
        return None
    return job.correction.head(sha256(job.documents["correction"].text.encode()).hexdigest())


def flicker_head(flicker: Flicker | None, window_hz: float, *, follow: bool) -> Body:
    """Of the display's flicker: rates, depths, where the refresh rate is from, and whether readings follow it.

    What the bench states takes precedence over what the window reads from the mode.
    """
    stated = flicker or Flicker()
    refresh_hz = stated.refresh_hz or window_hz or None
    return {
        "refresh_hz": refresh_hz,
        "refresh_from": "bench" if stated.refresh_hz else "screen mode" if window_hz else "not known",
        "refresh_depth": stated.refresh_depth,
        "dimming_hz": stated.dimming_hz,
        "dimming_duty": stated.dimming_duty if stated.dimming_hz else None,
        "synchronised": follow and refresh_hz is not None,
    }
