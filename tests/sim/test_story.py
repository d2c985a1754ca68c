"""The worked scenario, told whole by its one command, and that its verdicts are those of the invented truth."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

import sim.story
from benchd.cli import main
from sim.displays_story import PREDECESSOR, STORY_MODELS, SUCCESSOR
from sim.story import benches, steps, tell
from tests.once import made_once
from tests.ready import Ready


@pytest.fixture(scope="session")
def story(tmp_path_factory: pytest.TempPathFactory, ready: Ready) -> Path:
    """The folder of a story that was told: once for all, its commands in processes that have their modules loaded."""

    def run(command: list[str], *, cwd: Path, env: dict[str, str], **_: object) -> subprocess.CompletedProcess[str]:
        assert command[:3] == [sys.executable, "-m", "benchd"]
        return ready.run(command[3:], cwd, env)

    def make(folder: Path) -> None:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(sim.story, "subprocess", SimpleNamespace(run=run, DEVNULL=subprocess.DEVNULL))
            assert tell(folder) == 0

    return made_once(tmp_path_factory, "story", make)


def asked(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, object]:
    assert main(words) == 0
    found: dict[str, object] = json.loads(capsys.readouterr().out)
    return found


def test_everything_that_is_promised_is_there_and_says_simulated(story: Path) -> None:
    text = (story / "STORY.md").read_text(encoding="utf-8")
    for step in steps():
        assert step.why in text
        assert f"$ benchd {step.words[0]} " in text
        assert step.read in text
    chapters = [line for line in text.splitlines() if line.startswith("## ")]
    assert len(chapters) == len(set(chapters)) >= 6, "told in chapters"
    for name in ("verdict.html", "compared.html", "ranks.html"):
        page = (story / name).read_text(encoding="utf-8")
        assert name in text
        assert "<title>SIMULATED " in page
    assert len(list((story / "logs").glob("*.log"))) == 8
    assert {path.suffix for path in (story / "plots").iterdir()} == {".svg", ".png"}
    assert "lines more" not in text, "the whole of it is told"


def test_the_comparison_finds_what_was_built_in(story: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def model(name: str) -> str:
        return f"{name}={','.join(str(story / 'logs' / f'{name}-unit-{unit}.log') for unit in (1, 2, 3))}"

    found = asked(
        capsys, "compare", "--model", model("dunlin-27"), "--model", model("dunlin-27-b"), "--same-panel", "--json"
    )
    rows = {row["figure"]: row for row in found["rows"]}  # type: ignore[attr-defined]

    def answer(figure: str) -> str:
        return str(rows[figure]["differences"][1]["answer"])

    built = (SUCCESSOR.white_cd_m2 / SUCCESSOR.black_cd_m2) / (PREDECESSOR.white_cd_m2 / PREDECESSOR.black_cd_m2)
    contrast = rows["contrast"]["differences"][1]["relative"]
    assert contrast["low"] < 100 * (built - 1) < contrast["high"], "the interval holds the built-in truth"
    assert answer("contrast") == "different"
    assert answer("gamma") == "different"
    assert answer("white v'") == "different"
    assert "equivalent" in answer("coverage of sRGB / BT.709 in u'v'")
    assert rows["contrast"]["sides"][0]["logs"] == 3
    evidence = {one["feature"]: one["finding"] for one in found["same_panel"][0]["evidence"]}  # type: ignore[index]
    assert evidence["chromaticities of the primaries"] == "for", "they were made with the same filters"
    assert "for the same panel" in found["same_panel"][0]["answer"]  # type: ignore[index]


def test_the_claims_have_every_kind_of_verdict(story: Path, capsys: pytest.CaptureFixture[str]) -> None:
    logs = [str(story / "logs" / f"dunlin-27-b-{name}.log") for name in ("unit-1", "unit-2", "unit-3", "hdr")]
    found = asked(capsys, "claims", "dunlin-27-b", *logs, "--json")
    outcomes = {claim["claim"]: claim["outcome"] for claim in found["claims"]}  # type: ignore[attr-defined]
    assert outcomes["white luminance >= 350 cd/m2"] == "met"
    assert outcomes["peak luminance of a 10 % window >= 600 cd/m2"] == "met"
    assert outcomes["coverage of sRGB / BT.709 >= 99 %"] == "not met"
    assert outcomes["white CCT 6500 K ± 150 K"] == "inconclusive"
    assert outcomes["white luminance at brightness=0 <= 30 cd/m2"] == "not measured"


def test_a_story_is_not_told_over_another(story: Path) -> None:
    before = (story / "STORY.md").read_bytes()
    done = subprocess.run([sys.executable, "-m", "sim.story", str(story)], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "name a new folder" in done.stderr
    assert (story / "STORY.md").read_bytes() == before


def test_its_benches_are_the_shipped_ones_with_its_own_displays(tmp_path: Path) -> None:
    benches(tmp_path)
    names = {path.stem for path in (tmp_path / "benches").iterdir()}
    assert names == set(STORY_MODELS)
    for path in (tmp_path / "benches").iterdir():
        text = path.read_text(encoding="utf-8")
        assert f"--display, {path.stem}," in text
        assert "INVENTED" in text
