"""The fault campaign: ``python -m tests.campaign [--only NAME] [--pairs N] [--kills N] [--seed S] [--write-docs]``.

Without options: every fault alone, 30 drawn pairs, 1000 kills. Exit status 1 when anything ended wrongly.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from random import Random

from tests.campaign.case import READINGS, Case, Ended, Fault, Venue, prepare
from tests.campaign.disk import may_fail, may_mount
from tests.campaign.faults import BY_NAME, FAULTS
from tests.campaign.kills import kill_at_random
from tests.campaign.table import DOCUMENT, table

REAL_KILLS = 20
"""One kill of so many hits the real processes; the others are forks, a hundred times faster."""

Planned = tuple[tuple[Fault, ...], Venue, int]


def alone(names: Sequence[str], venues: Sequence[Venue]) -> list[Planned]:
    """Every fault on each of its venues."""
    chosen = [BY_NAME[name] for name in names] if names else FAULTS
    return [((fault,), venue, 0) for fault in chosen for venue in fault.venues if venue in venues and possible(fault)]


def pairs(count: int, seed: int, venues: Sequence[Venue] = ("virtual", "window")) -> list[Planned]:
    """Drawn pairs that can be had together: on one venue, with one disk."""
    generator = Random(seed)
    found: list[Planned] = []
    while len(found) < count:
        first, second = generator.sample(FAULTS, 2)
        common = [venue for venue in first.venues if venue in second.venues and venue in venues]
        disks = {first.disk, second.disk} - {"plain"}
        if common and len(disks) < 2 and possible(first) and possible(second):
            found.append(((first, second), generator.choice(common), generator.randrange(1 << 30)))
    return found


def real_kills(count: int, seed: int) -> list[Planned]:
    """SIGKILL of benchd, its window or its companion, the real processes, each at a drawn instant."""
    generator = Random(seed)
    found: list[Planned] = []
    for _ in range(count):
        victim = BY_NAME[generator.choice(("benchd-killed", "window-killed", "companion-killed"))]
        reading, late_s = generator.randrange(2, READINGS["virtual"] - 4), generator.random() * 0.02

        def begin(case: Case, victim: Fault = victim, late_s: float = late_s) -> None:
            time.sleep(late_s)
            victim.begin(case)

        drawn = replace(victim, at=(reading, reading), begin=begin)
        if victim.ends == "pauses":
            # A late one may find every reading taken: then the run is complete, and what could not be put back is said.
            drawn = replace(drawn, ends="either", errors=(*victim.errors, "NotRestored") if victim.errors else ())
        found.append(((drawn,), "virtual", 0))
    return found


def possible(fault: Fault) -> bool:
    """True where this machine lets us do it."""
    return fault.disk != "failing" or may_fail()


def run_one(folder: Path, number: int, planned: Planned) -> Ended:
    """One case in a folder of its own."""
    faults, venue, seed = planned
    with Case(folder / f"case-{number}", venue, faults, seed) as case:
        ended = case.run()
    if len(faults) == 1 and not ended.problems:
        ended.problems += expectations(faults[0], ended)
    return ended


def expectations(fault: Fault, ended: Ended) -> list[str]:
    """Where a fault alone did not end as its entry says."""
    problems = []
    if fault.ends == "goes on" and not ended.went_on:
        problems.append(f"should go on by itself, but paused: {ended.pauses}")
    if fault.ends == "pauses" and ended.went_on:
        problems.append("should pause, but went on")
    if fault.errors and not set(fault.errors) & set(ended.errors):
        problems.append(f"none of {fault.errors} is in the log, but {ended.errors}")
    return problems


def main(arguments: Sequence[str] | None = None) -> int:
    """Run it; 1 when a case ended wrongly."""
    parser = argparse.ArgumentParser(prog="python -m tests.campaign", description=__doc__)
    parser.add_argument("--only", action="append", default=[], choices=sorted(BY_NAME), help="only this fault, alone")
    parser.add_argument("--pairs", type=int, help="drawn pairs (30; with --only: 0)")
    parser.add_argument("--kills", type=int, help="SIGKILLs at drawn instants (1000; with --only: 0)")
    parser.add_argument("--seed", type=int, default=20261125, help="of pairs, moments and kills")
    parser.add_argument("--venue", action="append", choices=("virtual", "window"), help="only there")
    parser.add_argument("--jobs", type=int, default=2, help="cases at the same time")
    parser.add_argument("--write-docs", action="store_true", help="write FAULTS.md beside this program")
    wanted = parser.parse_args(arguments)
    count = wanted.pairs if wanted.pairs is not None else 0 if wanted.only else 30
    kills = wanted.kills if wanted.kills is not None else 0 if wanted.only else 1000
    venues: tuple[Venue, ...] = tuple(wanted.venue) if wanted.venue else ("virtual", "window")
    killed = real_kills(kills // REAL_KILLS, wanted.seed)
    planned = [*alone(wanted.only, venues), *pairs(count, wanted.seed, venues), *killed]
    disk = "small disk: a tmpfs; failing disk: ext4 on a loop device" if may_mount() else "small disk: RLIMIT_FSIZE"
    print(f"seed {wanted.seed}; {len(planned)} cases; {disk}; everything measured is SIMULATED", flush=True)
    found: list[Ended] = []
    with tempfile.TemporaryDirectory(prefix="campaign-", ignore_cleanup_errors=True) as name:
        folder = Path(name)
        prepare(sorted({venue for _, venue, _ in planned}), folder)
        with ThreadPoolExecutor(wanted.jobs) as pool:
            for ended in pool.map(lambda item: run_one(folder, *item), enumerate(planned)):
                found.append(ended)
                print(told(ended), flush=True)
    bad = sum(bool(ended.problems) for ended in found)
    print(f"{len(found)} cases, {bad} ended wrongly ({len(killed)} of them kills of the real processes)")
    if kills:
        counted, wrong = kill_at_random(kills - len(killed), wanted.seed)
        print(f"{counted} more kills at drawn instants, {wrong} ended wrongly")
        bad += wrong
    if wanted.write_docs:
        DOCUMENT.write_text(table(found[: len(found) - len(killed)], kills, bad), encoding="utf-8")
    return min(1, bad)


def told(ended: Ended) -> str:
    """One line, more where something is wrong."""
    how = "went on" if ended.went_on else f"{ended.sessions} sessions"
    mark = "WRONG" if ended.problems else "right"
    line = f"{mark}  {' + '.join(ended.faults):<48} {ended.venue:<8} {how:<11} {ended.seconds:5.1f} s  "
    line += " ".join(dict.fromkeys(ended.errors))
    for pause in ended.pauses if ended.problems else ():
        line += f"\n         pause: {pause}"
    for problem in ended.problems:
        line += f"\n         {problem} (seed {ended.seed})"
    return line


if __name__ == "__main__":
    sys.exit(main())
