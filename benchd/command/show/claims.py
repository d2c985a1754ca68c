"""``benchd claims``: a maker's claims against what was measured."""

from __future__ import annotations

import shutil
import sys
from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from benchd.analysis.results import Results
from benchd.analysis.verdicts.claim_verdicts import Claim, ClaimOutcome, check_claims
from benchd.command.show.results import results_of
from benchd.exits import Exit
from benchd.profile import profile_store as library

if TYPE_CHECKING:
    from benchd.profile.claim_sheet import ClaimSheet
    from benchd.report.sections.claims import ClaimsShown


def main(arguments: Namespace) -> Exit:
    """Print every claim with its verdict."""
    from benchd.report.data.document import json_text
    from benchd.report.data.verdicts import claims_json
    from benchd.report.sections.claims import claims_section
    from benchd.report.terminal.section_text import sections_text

    sheet = sheet_of(arguments.sheet)
    logs = [results_of(Path(log), arguments.target)[0] for log in arguments.logs]
    shown = claims_shown(sheet, logs)
    simulated = any(log.simulated for log in logs)
    if arguments.format == "json":
        sys.stdout.write(json_text(claims_json(sheet.product, sheet.source, shown.checked, simulated=simulated)))
        return Exit.COMPLETE
    width = shutil.get_terminal_size((100, 24)).columns
    sections = [claims_section(shown)]
    sys.stdout.write(sections_text(sections, simulated=simulated, width=width, colour=sys.stdout.isatty()))
    return Exit.COMPLETE


def sheet_of(name: str) -> ClaimSheet:
    """The sheet of that name or path. Raises `InputError` with all errors in the file."""
    path = library.find("claims", name)
    return library.load_claims(library.read_text(path), str(path))


def claims_shown(sheet: ClaimSheet, logs: Sequence[Results]) -> ClaimsShown:
    """The sheet checked against every log, for a report."""
    from benchd.report.sections.claims import ClaimsShown

    measured = "; ".join(measured_under(log) for log in logs)
    return ClaimsShown(sheet.product, sheet.source, measured, checked_claims(sheet, logs))


def checked_claims(sheet: ClaimSheet, logs: Sequence[Results]) -> tuple[ClaimOutcome, ...]:
    """Every claim of the sheet against every log."""
    claims = []
    for line in sheet.claims:
        terms = line.terms
        low, high, allowance = terms.low, terms.high, None
        if terms.typical:
            allowance = line.allowance_percent or sheet.typical_allowance_percent
            # Ten digits, so that 1000 less a tenth is 900 and is printed as the limit that it is.
            low = None if low is None else float(f"{low * (1.0 - allowance / 100.0):.10g}")
            high = None if high is None else float(f"{high * (1.0 + allowance / 100.0):.10g}")
        claims.append(
            Claim(
                *(terms.figure, low, high, terms.unit, line.claim, line.wording, line.conditions),
                typical=terms.typical,
                allowance_percent=allowance,
            )
        )
    return check_claims(claims, logs)


def measured_under(log: Results) -> str:
    """Sample, plan, note and settings of the display that a log was measured under."""
    words = [f"{log.sample or 'a sample'} with the plan {log.plan}", log.note]
    if log.sweep:
        words.append(f"a sweep over {', '.join(log.sweep.controls)}")
    words += [f"in doubt: {doubt.text}" for doubt in log.doubts]
    return ", ".join(filter(None, words))
