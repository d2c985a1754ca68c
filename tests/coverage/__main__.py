"""The coverage study: do the intervals of 95 % hold the truth in 95 % of drawn displays and meters?

    python -m tests.coverage [--trials N] [--write-docs]

Prints the table; ``--write-docs`` writes it into DEVELOPERS.md. Exit status 1 when a kind of figure is outside 93 to
97 %. A thousand trials take about ten minutes on two processors. Seeds are fixed.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from tests.coverage.study import LEAST, MOST, Tally, out_of_range, study, table, workers

DOCUMENT = Path(__file__).resolve().parents[2] / "DEVELOPERS.md"
BEGIN, END = "<!-- coverage:begin -->", "<!-- coverage:end -->"
EVERY = 100


def markdown(tallies: dict[str, Tally], trials: int) -> str:
    """The table for the documentation."""
    head, *rows = table(tallies)
    lines = [
        f"Made by `python -m tests.coverage --trials {trials} --write-docs`, SIMULATED: {trials} drawn displays and",
        "meters, each through the whole chain. Held: share of figures whose interval of 95 % holds the truth; width:",
        "of the interval, of the value. Steps, places and levels of one kind are counted together. Spaces of the gamut",
        "are drawn about the display's own triangle, corners 0.002 farther out (short), or by chance within 0.002",
        "(edge), 0.01 (near) and 0.05 (far), in x and y.",
        "A coverage that is truly 100 % or within that 0.002 of it can be missed on one side only: at least 93 % are",
        "asked of it.",
        "",
        f"| {' | '.join(head)} |",
        f"|{'---|' * len(head)}",
        *(f"| {' | '.join(row)} |" for row in rows),
    ]
    return "\n".join(lines) + "\n"


def write_docs(text: str, document: Path = DOCUMENT) -> None:
    """Put ``text`` between the marks of the document; a section is added where it has none."""
    whole = document.read_text(encoding="utf-8")
    if BEGIN not in whole:
        whole = whole.rstrip("\n") + f"\n\n## Coverage of the intervals\n\n{BEGIN}\n{END}\n"
    before, _, rest = whole.partition(BEGIN)
    _, _, after = rest.partition(END)
    document.write_text(f"{before}{BEGIN}\n\n{text}\n{END}{after}", encoding="utf-8")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the study and print it."""
    parser = argparse.ArgumentParser(prog="python -m tests.coverage", description=__doc__.splitlines()[0])  # type: ignore[union-attr]
    parser.add_argument("--trials", type=int, default=1000, help="how many displays and meters are drawn (1000)")
    parser.add_argument("--write-docs", action="store_true", help="write the table into DEVELOPERS.md")
    wanted = parser.parse_args(arguments)

    def tell(done: int) -> None:
        if done % EVERY == 0:
            sys.stderr.write(f"{done} of {wanted.trials} trials\n")

    tallies = study(wanted.trials, workers=workers(), tell=tell)
    sys.stdout.write(markdown(tallies, wanted.trials))
    if wanted.write_docs:
        write_docs(markdown(tallies, wanted.trials))
    wrong = out_of_range(tallies)
    if wrong:
        sys.stdout.write(f"\noutside {100 * LEAST:g} to {100 * MOST:g} %: {', '.join(wrong)}\n")
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
