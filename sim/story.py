"""The worked scenario: from plan to published verdict, by the commands that an operator would type.

``python -m sim.story FOLDER`` measures three units of an invented display and of its invented predecessor on
simulated benches, and both in HDR; compares them, holds the maker's claims against them, and writes the pages.
FOLDER/STORY.md has it, with every command and its output. Everything is SIMULATED.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from benchd.profile.profile_store import ProfileStore, find, read_text

MODELS = (("dunlin-27", "the predecessor"), ("dunlin-27-b", "the successor"))
UNITS = (1, 2, 3)
SDR_BENCH, HDR_BENCH = ("sim-office", "office-lcd"), ("sim-hdr-lcd", "hdr-lcd")
"""Shipped benches, and the display on them that gives way to one of ours."""
MAX_LINES = 200
"""Of what a command printed, the story keeps this much."""

OPENING = (
    "A maker brings out a successor, the Dunlin 27 B, and states more contrast, a tuned white and more light "
    "in HDR. Is that so, and is it more than three units of one model differ by anyway? This is the whole way from "
    "a plan to a published verdict, by the commands that you would type. Words: a **plan** is what to measure, a "
    "**bench** is the display, the meter and what is known of the meter, a **sample** is one unit of a model, and a "
    "**log** is what one run wrote down; everything after it is computed from logs and can be done again at any time."
)
MEASURING = (
    "A run needs a plan, a bench and the name of the sample, and writes a log. Ctrl-C pauses it, and `benchd resume` "
    "goes on. The benches of this story are files in `benches/`."
)
CLOSING = (
    "The verdict: `verdict.html`; the comparison: `compared.html`; the ranks: `ranks.html`; the plots: `plots/`.\n\n"
    "1. Describe your bench: copy `profiles/benches/my-bench.yaml`, name your meter's dialect, and under "
    "`uncertainty` what its certificate states; without it the verdict of every claim is inconclusive.\n"
    "2. `benchd doctor --bench my-bench` reports what does not answer yet; `benchd check --bench my-bench` is a first "
    "white, black and contrast.\n"
    "3. `benchd run verdict-sdr --bench my-bench --sample MODEL/1`, again for every unit, then the commands above.\n"
    "4. Copy `profiles/claims/dunlin-27-b.yaml` for the data sheet of your display. State margins before you look."
)


@dataclass(frozen=True, slots=True)
class StoryStep:
    """One step: why, the command without its program, whether its output belongs into the story, how to read it.

    ``heading`` begins a chapter; ``file`` is a shipped profile (kind, name) that is shown before the command.
    """

    why: str
    words: tuple[str, ...]
    shown: bool = True
    read: str = ""
    heading: str = ""
    file: tuple[ProfileStore, str] | None = None


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


def steps() -> Iterator[StoryStep]:
    """All commands of the story, in order. Paths are within the folder."""
    yield StoryStep(
        "A plan states what is to be measured, in blocks. It is a text file; this one comes with benchd. `benchd plan` "
        "lists what it would do and how long it takes, before anything is opened.",
        ("plan", "verdict-sdr"),
        read="Every patch waits until the display has settled and is then read several times: the spread of the "
        "readings is one part of every uncertainty below, what the bench profile states of the meter is the other. "
        "On this bench time is virtual, so an hour passes in seconds.",
        heading="The plan",
        file=("plans", "verdict-sdr"),
    )
    heading = "Measuring"
    for model, who in MODELS:
        for unit in UNITS:
            display = f"{model}-unit-{unit}"
            why = f"Unit {unit} of {who}."
            words = _run("verdict-sdr", display, f"{model}/{unit}", f"logs/{display}.log")
            yield StoryStep(f"{MEASURING} {why}" if heading else why, words, shown=False, heading=heading)
            heading = ""
        why = f"Unit 1 of {who} once more, in its HDR mode."
        yield StoryStep(why, _run("hdr-quick", f"{model}-hdr", f"{model}/1", f"logs/{model}-hdr.log"), shown=False)
    yield StoryStep(
        "The results of one log, and their uncertainty. Every figure has a budget: where its uncertainty comes from.",
        ("results", f"logs/{MODELS[1][0]}-unit-1.log", "--budget", "white luminance"),
        heading="One log",
    )
    yield StoryStep(
        "And that of the contrast of the same log.",
        ("results", f"logs/{MODELS[1][0]}-unit-1.log", "--budget", "contrast"),
        read="The scale of the meter rules the luminance, and is nothing in the contrast, where it cancels: that is "
        "why two contrasts may differ significantly though two luminances farther apart do not. "
        "`benchd results LOG` prints all.",
    )
    old, new = ([f"logs/{model}-unit-{unit}.log" for unit in UNITS] for model, _ in MODELS)
    models = ("--model", f"dunlin-27={','.join(old)}", "--model", f"dunlin-27-b={','.join(new)}")
    margins = ("--margin", "contrast=10%", "--same-panel")
    why = (
        "Is the successor better? Three units each, so that the spread between units counts. That a tenth of contrast "
        "does not matter is stated before looking."
    )
    yield StoryStep(
        why,
        ("compare", *models, *margins),
        read="Read the verdicts, not the digits. *different*: beyond what chance explains, all figures judged "
        "together. *equivalent*: shown to be closer than the margin. *inconclusive*: neither, which is no fault of the "
        "bench: three units that differ among themselves say only so much of a model, and the fourth column states how "
        "much. The last part weighs whether the successor has a new panel or only new tuning.",
        heading="The comparison",
    )
    yield StoryStep(
        "The same as a page with plots.", ("compare", *models, *margins, "-o", "compared.html"), shown=False
    )
    hdr = tuple(f"logs/{model}-hdr.log" for model, _ in MODELS)
    yield StoryStep("And in HDR.", ("compare", *hdr))
    every = (*new, hdr[1])
    yield StoryStep(
        "What the maker claims, copied from the data sheet line by line, against all that was measured.",
        ("claims", "dunlin-27-b", *every),
        read="*met* and *not met* are given only with the whole coverage interval on one side of the limit. "
        "One inconclusive unit leaves the claim so, and what no log holds is *not measured*, never *not met*.",
        heading="The claims",
        file=("claims", "dunlin-27-b"),
    )
    page = ("report", *every, "--claims", "dunlin-27-b", "-o", "verdict.html", "--plots", "plots")
    yield StoryStep("The page to be published, and its plots as files.", page, shown=False, heading="Publishing")
    yield StoryStep(
        "And its place among everything that was ever measured, here the eight logs of this story.",
        ("library", "rank", "contrast", "--library", "logs"),
        read="Between samples that share a rank there is no significant difference.",
    )
    site = ("library", "site", "--library", "logs", "-o", "ranks.html")
    yield StoryStep("The same for readers: one page to sort and filter.", site, shown=False)


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
        "# A display, its predecessor, and its maker's claims",
        "",
        "SIMULATED: made by `python -m sim.story`. Displays, maker, meter and data sheet are invented.",
        *("", OPENING),
    ]
    for step in steps():
        sys.stderr.write(f"benchd {' '.join(step.words)}\n")
        code, out = _benchd(folder, step.words)
        if code:
            sys.stderr.write(out)
            return code
        lines += ["", f"## {step.heading}"] if step.heading else []
        lines += ["", step.why]
        if step.file:
            lines += ["", "```yaml", read_text(find(*step.file)).rstrip("\n"), "```"]
        lines += ["", "```console", f"$ benchd {_quoted(step.words)}"]
        lines += _kept(out) if step.shown else []
        lines.append("```")
        lines += ["", step.read] if step.read else []
    lines += ["", "## And now your own", "", CLOSING]
    (folder / "STORY.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
    made = ", ".join(str(folder / name) for name in ("STORY.md", "verdict.html", "compared.html", "ranks.html"))
    sys.stderr.write(f"Written: {made}\n")
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
    return lines if len(lines) <= MAX_LINES else [*lines[:MAX_LINES], f"... and {len(lines) - MAX_LINES} lines more"]


if __name__ == "__main__":
    if len(sys.argv) != 2 or sys.argv[1].startswith("-"):
        sys.stderr.write(f"{__doc__}\nusage: python -m sim.story FOLDER\n")
        sys.exit(0 if sys.argv[1:] in (["-h"], ["--help"]) else 2)
    sys.exit(tell(Path(sys.argv[1])))
