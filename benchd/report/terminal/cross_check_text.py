"""What an independent library says of the colour figures of a log, as text and as JSON (`--cross-check`)."""

from __future__ import annotations

import math

from benchd.analysis.verdicts.cross_check import Compared, CrossCheck
from benchd.report.data.document import Json
from benchd.report.data.log_reference import LogReference
from benchd.report.terminal.text_page import page_for
from benchd.report.words import SIMULATED, capital, columns, count, grouped, printable

SCHEMA = "benchd.cross-check/1"

_WORDS = {
    "in_hour": "change within an hour",
    "per_hour": "change an hour",
    "to_come": "change still to come",
    "coverage_uv": "coverage u'v'",
    "area_ratio_uv": "area ratio u'v'",
    "below_95_after_s": "seconds until below 95 %",
    "near_over_far": "near over far black",
}
"""Names of figures that are not their own words with a blank between."""


def cross_check_text(found: CrossCheck, simulated: bool, log: LogReference, width: int) -> str:
    """A row for each kind of figure, the reasons of the tolerances, what was not compared, and the verdict.

    Of a simulated bench its first and last line say so.
    """
    page = page_for(width, colour=False)
    rows = [("figure", "compared", "largest deviation", "tolerance", "", "at (path in the CSV)")]
    for one in found.compared:
        verdict = "" if one.agrees else "BEYOND"
        rows.append(
            (
                one.kind,
                str(one.count),
                _amount(one, one.deviation),
                _amount(one, one.tolerance.most),
                verdict,
                one.figure,
            )
        )
    lines = [
        *page.simulated(simulated),
        *page.prose(
            f"{printable(log.file)}: colour figures computed again with {found.library} from the same X, Y, Z", ""
        ),
        "",
        *columns(rows, left=(0, 4, 5)),
    ]
    lines += page.heading("tolerances", "")
    for why, kinds in grouped((one.tolerance.why, one.kind) for one in found.compared).items():
        lines += page.prose(f"{'; '.join(kinds)}: {why}")
    lines += page.heading("not cross-checked", "")
    for other in found.not_compared:
        named = ((_WORDS.get(name, name.replace("_", " ")), number) for name, number in other.names.items())
        names = ", ".join(f"{name} {number}" for name, number in sorted(named))
        lines += page.prose(f"{capital(other.why)}: {count(sum(other.names.values()), 'figure')} ({names})")
    return "\n".join([*lines, "", *(_verdict(found)), *page.simulated(simulated)]) + "\n"


def _verdict(found: CrossCheck) -> list[str]:
    beyond = [one for one in found.compared if not one.agrees]
    compared = sum(one.count for one in found.compared)
    if not compared:
        return ["NOTHING COMPARED: this log has no colour figure that the library can compute"]
    if not beyond:
        return [f"AGREES: {count(compared, 'figure')} of {count(len(found.compared), 'kind')}, all within tolerance"]
    return [f"DISAGREES: {one.kind} at {one.figure} is {one.value!r} here and {one.again!r} there" for one in beyond]


def _amount(one: Compared, amount: float) -> str:
    if math.isnan(amount):
        return "no number"
    unit = "relative" if one.tolerance.relative else one.tolerance.unit
    return f"{amount:.1e}{'' if unit == '1' else f' {unit}'}" if amount else "0"


def cross_check_json(found: CrossCheck, simulated: bool, log: LogReference) -> Json:
    """The same as data. ``deviation`` null: the library gives no number; ``relative``: as a share of the figure."""
    return {
        "schema": SCHEMA,
        "simulated": simulated,
        "notice": SIMULATED if simulated else "",
        "log": {"file": log.file, "sha256": log.sha256},
        "library": found.library,
        "agrees": found.agrees,
        "compared": [
            {
                "kind": one.kind,
                "figures": one.count,
                "deviation": _plain(one.deviation),
                "tolerance": one.tolerance.most,
                "relative": one.tolerance.relative,
                "unit": one.tolerance.unit,
                "why": one.tolerance.why,
                "agrees": one.agrees,
                "at": {"figure": one.figure, "value": one.value, "again": _plain(one.again)},
            }
            for one in found.compared
        ],
        "not_compared": [{"why": one.why, "figures": dict(one.names)} for one in found.not_compared],
    }


def _plain(value: float) -> float | None:
    return None if math.isnan(value) or math.isinf(value) else value
