"""The worked scenario: from plan to published verdict, by the commands that an operator would type.

``python -m sim.story FOLDER`` measures three units of an invented display and of its invented predecessor on
simulated benches, and both in HDR; compares them, holds the maker's claims against them, and writes the pages.
FOLDER/STORY.md tells it, with every command and what it printed. Everything is SIMULATED.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from benchd.plan.library import find, read_text

MODELS = (("dunlin-27", "the predecessor"), ("dunlin-27-b", "the successor"))
UNITS = (1, 2, 3)
SDR_BENCH, HDR_BENCH = ("sim-office", "office-lcd"), ("sim-hdr-lcd", "hdr-lcd")
"""Shipped benches, and the display on them that gives way to one of ours."""
MOST_LINES = 150
"""Of what a command printed, the story keeps this much."""


@dataclass(frozen=True, slots=True)
class Told:
    """One step: why, the command without its program, and whether its output belongs into the story."""

    why: str
    words: tuple[str, ...]
    shown: bool = True


def benches(folder: Path) -> None:
    """Write a bench for every unit: a shipped one with another display on it and noise of its own."""
    (folder / "benches").mkdir(parents=True, exist_ok=True)
    for model, _ in MODELS:
        for unit in UNITS:
            _bench(folder, SDR_BENCH, f"{model}-unit-{unit}", 100 + unit)
        _bench(folder, HDR_BENCH, f"{model}-hdr", 110)


def _bench(folder: Path, shipped: tuple[str, str], display: str, seed: int) -> None:
    name, old = shipped
    text = read_text(find("benches", name))
    for before, after in (
        (f"bench: {name}\n", f"bench: {display}\n"),
        (f"--display, {old},", f"--display, {display},"),
    ):
        if before not in text:
            raise ValueError(f"the bench {name} no longer has {before!r}")
        text = text.replace(before, after)
    head, sign, tail = text.partition('--seed, "')
    text = f'{head}{sign}{seed}"{tail.partition(chr(34))[2]}'
    (folder / "benches" / f"{display}.yaml").write_text(text, encoding="utf-8")


def steps() -> Iterator[Told]:
    """All commands of the story, in order. Paths are within the folder."""
    yield Told("What the plan would do, before anything is opened.", ("plan", "verdict-sdr"))
    for model, who in MODELS:
        for unit in UNITS:
            display = f"{model}-unit-{unit}"
            why = f"Unit {unit} of {who}."
            yield Told(why, _run("verdict-sdr", display, f"{model}/{unit}", f"logs/{display}.log"), shown=False)
        why = f"Unit 1 of {who} once more, in its HDR mode."
        yield Told(why, _run("hdr-quick", f"{model}-hdr", f"{model}/1", f"logs/{model}-hdr.log"), shown=False)
    old, new = ([f"logs/{model}-unit-{unit}.log" for unit in UNITS] for model, _ in MODELS)
    models = ("--model", f"dunlin-27={','.join(old)}", "--model", f"dunlin-27-b={','.join(new)}")
    margins = ("--margin", "contrast=10%", "--same-panel")
    why = (
        "Is the successor better? Three units each, so that the spread between units counts. That a tenth of contrast "
        "does not matter is stated before looking."
    )
    yield Told(why, ("compare", *models, *margins))
    yield Told("The same as a page with plots.", ("compare", *models, *margins, "-o", "compared.html"), shown=False)
    hdr = tuple(f"logs/{model}-hdr.log" for model, _ in MODELS)
    yield Told("And in HDR.", ("compare", *hdr))
    every = (*new, hdr[1])
    yield Told("What the maker claims, against all that was measured.", ("claims", "dunlin-27-b", *every))
    page = ("report", new[0], hdr[1], "--claims", "dunlin-27-b", "-o", "verdict.html", "--plots", "plots")
    yield Told("The page to be published, and its plots as files.", page, shown=False)


def _run(plan: str, bench: str, sample: str, log: str) -> tuple[str, ...]:
    return ("run", plan, "--bench", f"benches/{bench}.yaml", "--sample", sample, "--log", log)


def tell(folder: Path) -> int:
    """Do it all in ``folder``; returns 0, or the exit status of the first command that failed."""
    if (folder / "logs").exists():
        sys.stderr.write(f"{folder} holds a story already: name a new folder\n")
        return 2
    benches(folder)
    (folder / "logs").mkdir()
    lines = [
        "# A display, its predecessor, and what its maker says",
        "",
        "SIMULATED: made by `python -m sim.story`. Displays, maker, meter and data sheet are invented.",
    ]
    for step in steps():
        sys.stderr.write(f"benchd {' '.join(step.words)}\n")
        code, out = _benchd(folder, step.words)
        if code:
            sys.stderr.write(out)
            return code
        lines += ["", step.why, "", "```console", f"$ benchd {_quoted(step.words)}"]
        lines += _kept(out) if step.shown else []
        lines.append("```")
    lines += ["", "The verdict: `verdict.html`; the comparison: `compared.html`; the plots: `plots/`."]
    (folder / "STORY.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
    sys.stderr.write(f"Told: {folder / 'STORY.md'}, {folder / 'verdict.html'}, {folder / 'compared.html'}\n")
    return 0


def _benchd(folder: Path, words: Sequence[str]) -> tuple[int, str]:
    done = subprocess.run(
        [sys.executable, "-m", "benchd", *words],
        cwd=folder,
        env={**os.environ, "COLUMNS": "110", "PYTHONPATH": os.pathsep.join(filter(None, (_here(), _path())))},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, done.stdout if done.returncode == 0 else done.stdout + done.stderr


def _here() -> str:
    return str(Path(__file__).resolve().parent.parent)


def _path() -> str:
    return os.environ.get("PYTHONPATH", "")


def _quoted(words: Sequence[str]) -> str:
    return " ".join(f'"{word}"' if " " in word else word for word in words)


def _kept(out: str) -> list[str]:
    lines = out.rstrip("\n").split("\n")
    return lines if len(lines) <= MOST_LINES else [*lines[:MOST_LINES], f"... and {len(lines) - MOST_LINES} lines more"]


if __name__ == "__main__":
    if len(sys.argv) != 2 or sys.argv[1].startswith("-"):
        sys.stderr.write(f"{__doc__}\nusage: python -m sim.story FOLDER\n")
        sys.exit(0 if sys.argv[1:] in (["-h"], ["--help"]) else 2)
    sys.exit(tell(Path(sys.argv[1])))
