"""The coverage study: do the intervals of 95 % hold the truth in 95 % of drawn displays and meters, in every world?

    python -m tests.coverage [--world NAME ...] [--trials N] [--kept FOLDER] [--write-docs] [--kinds]

Prints the table, worlds as columns. Each trial is kept in a file of its world once it is done, so that a study that was
stopped goes on where it was; ``--trials 0`` prints what is there. ``--write-docs`` writes ``COVERAGE.md`` beside it;
``--kinds`` prints every kind of figure. Exit status 1 where something falls short. A thousand trials of all worlds take
an hour of one processor. Seeds are fixed.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

from tests.coverage.study import Tally, lines, study, tallies
from tests.coverage.table import details, shortfalls, table
from tests.coverage.worlds import BY_NAME, WORLDS, World

DOCUMENT = Path(__file__).resolve().with_name("COVERAGE.md")
EVERY = 50


def markdown(found: Sequence[tuple[World, Mapping[str, Tally]]]) -> str:
    """The table for the documentation."""
    text = [
        "# Coverage of the intervals",
        "",
        "Made by `python -m tests.coverage --write-docs`, SIMULATED: drawn displays and meters, each through plan,",
        "sequencer, records and analysis. A cell has, of the kinds of figure that belong to the row, the lowest share",
        "of intervals of 95 % (and bounds) that hold the truth, in %, and the largest width, over that of intervals",
        "made with the true model of the errors: the truth's distance from the middle of an interval, in half widths,",
        "has a 95 % quantile q over the trials, and the width is 1 / q. So 1.00 is as wide as need be, for the same",
        'estimate from as many readings. A value without an interval ("without") holds nothing. Required are 93 %',
        "(serial correlation 90 %) and a width of at most 1.3 (resolution and random walk 1.6); \\* marks a cell where",
        "a kind falls short, listed below. Steps, places and polarities of one kind are counted together. Spaces of",
        "the gamut are drawn about the display's own triangle, corners 0.002 farther out (short), or by chance within",
        "0.002 (edge), 0.01 (near) and 0.05 (far), in x and y. A world has 1000 displays; the second row says how many",
        "were run. Of n displays two standard deviations of a share are 44 / sqrt(n) %.",
        "",
        *(f"- {world.title}: {world.about}" for world, _ in found),
        "",
        *as_markdown(table(found)),
    ]
    wrong = shortfalls(found)
    text += ["", "Shortfalls:" if wrong else "No shortfalls.", "", *(f"- {line}" for line in wrong)]
    return "\n".join(text).rstrip("\n") + "\n"


def as_markdown(rows: Sequence[Sequence[str]]) -> list[str]:
    """Lines of a table, the first row its head."""
    head, *others = (f"| {' | '.join(row)} |" for row in rows)
    return [head, f"|{'---|' * len(rows[0])}", *others]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the study and print it."""
    parser = argparse.ArgumentParser(prog="python -m tests.coverage", description=__doc__.splitlines()[0])  # type: ignore[union-attr]
    parser.add_argument("--world", action="append", choices=list(BY_NAME), help="only this one; may be repeated")
    parser.add_argument("--trials", type=int, default=1000, help="how many displays and meters are drawn (1000)")
    parser.add_argument("--kept", type=Path, default=Path("checks/coverage"), help="folder of the trials that are done")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1, help="processes")
    parser.add_argument("--kinds", action="store_true", help="print every kind of figure too")
    parser.add_argument("--write-docs", action="store_true", help="write COVERAGE.md beside this program")
    wanted = parser.parse_args(arguments)
    worlds = [BY_NAME[name] for name in wanted.world] if wanted.world else list(WORLDS)
    wanted.kept.mkdir(parents=True, exist_ok=True)
    files = {world: wanted.kept / f"{world.name}.jsonl" for world in worlds}
    for world, file in files.items():

        def tell(done: int, name: str = world.name) -> None:
            if done % EVERY == 0:
                sys.stderr.write(f"{name}: {done} of {wanted.trials} trials\n")

        study(world, wanted.trials, file, workers=wanted.workers, tell=tell)
    found = [(world, tallies(lines(file))) for world, file in files.items()]
    found = [(world, kinds) for world, kinds in found if kinds]
    text = markdown(found)
    sys.stdout.write(text)
    if wanted.kinds:
        for world, kinds in found:
            sys.stdout.write(f"\n{world.title}\n\n" + "\n".join(as_markdown(details(kinds))) + "\n")
    if wanted.write_docs:
        DOCUMENT.write_text(text, encoding="utf-8")
    return 1 if shortfalls(found) else 0


if __name__ == "__main__":
    raise SystemExit(main())
