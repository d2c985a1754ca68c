"""What holds for a whole log, as data for a report: drift, what was done about it, and what was taken off."""

from __future__ import annotations

from benchd.analysis.results import Results
from benchd.report.model import Section
from benchd.report.sections.compensation import compensation_section


def run_sections(results: Results) -> list[Section]:
    """Those that there are; few logs have any of them, and only those load what makes them."""
    made = []
    if results.drift:
        from benchd.report.sections.drift import drift_section

        made.append(drift_section(results.drift))
    compensation = compensation_section(results.compensation)
    made += [compensation] if compensation else []
    if results.offsets:
        from benchd.report.sections.offset import offset_section

        made += map(offset_section, results.offsets)
    return made
