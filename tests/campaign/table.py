"""The table of faults and outcomes in the document beside this file, made from a run of the campaign."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from tests.campaign.case import Ended
from tests.campaign.faults import FAULTS, UNSEEN

DOCUMENT = Path(__file__).resolve().with_name("FAULTS.md")


def table(found: Sequence[Ended], kills: int, wrong: int) -> str:
    """Markdown: every fault alone, then what pairs and kills came to, then what can't be seen."""
    lines = [
        "# Faults tried",
        "",
        "Made by `python -m tests.campaign --write-docs` on SIMULATED benches. Each case ended with the results of",
        "the fault-free run (virtual time: the same values, and the same uncertainties but for the meter's placing",
        "at a resume; real window: within noise), with every record that was on disk before still there, without a",
        "traceback, and with no process left over.",
        "",
        "| fault | what happens | named in the log | how it ends |",
        "|---|---|---|---|",
    ]
    for fault in FAULTS:
        cases = [ended for ended in found if ended.faults == (fault.name,)]
        if not cases:
            continue
        errors = sorted({error for ended in cases for error in ended.errors})
        hows = sorted({"goes on by itself" if ended.went_on else "pauses; right after the resume" for ended in cases})
        if any(ended.problems for ended in cases):
            hows = ["**wrong**"]
        named = ", ".join(f"`{error}`" for error in errors) or "nothing to name"
        lines.append(f"| {fault.name} | {fault.text} | {named} | {' or '.join(hows)} |")
    both = [ended for ended in found if len(ended.faults) == 2]
    right = sum(not ended.problems for ended in both)
    lines += [
        "",
        f"Drawn pairs: {right} of {len(both)} right. SIGKILLs of benchd, its window and its companion at drawn",
    ]
    lines += [f"instants: {kills}. Cases that ended wrongly in all: {wrong}."]
    lines += ["", "What can't be seen:", ""]
    lines += [f"- {one}" for one in UNSEEN]
    return "\n".join(lines) + "\n"
