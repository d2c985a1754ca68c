"""A colour difference has one spelling wherever a person reads it, and every spelling is understood where one types."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from benchd.cli import main
from benchd.measurements.declared_figure import declared_figures, figure_called, plain_name
from tests.report.logged import records, write

SHEET = """\
sheet: own
product: none, invented
source: a test
claims:
  - claim: grayscale ΔE₀₀ mean <= 2
    wording: "Average delta E below 2"
  - claim: colour dE00 mean <= 2.000
    wording: "delta E below 2"
"""


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("spelling")
    paths = [folder / "plover.log", folder / "curlew.log"]
    for path, plan in zip(paths, ("sdr-standard", "colour-standard"), strict=True):
        write(path, records(plan, simulated=True), sample=f"{path.stem}-1/1")
    (folder / "own.yaml").write_text(SHEET)
    return paths


@pytest.mark.parametrize(
    "words",
    [
        ["results", "LOG"],
        ["results", "LOG", "--details"],
        ["results", "LOG", "--budget", "grayscale dE00 mean"],
        ["results", "LOG", "--budget", "grayscale ΔE₀₀ mean"],
        ["results", "LOG", "--budget", "grayscale delta E meen"],
        ["compare", "LOG", "OTHER", "--margin", "grayscale dE00 mean=0.3"],
        ["compare", "LOG", "OTHER", "--margin", "grayscale delta E mean=0.3"],
        ["compare", "LOG", "OTHER", "--margin", "grayscale dE00 meen=0.3"],
        ["claims", "SHEET", "OTHER"],
        ["library", "list", "--library", "FOLDER", "--figures"],
        ["library", "rank", "grayscale-dE00-mean", "--library", "FOLDER"],
        ["library", "query", '"grayscale delta E mean" < 2', "--library", "FOLDER"],
        ["library", "query", "contrast > 1", "--show", "grayscale dE00 meen", "--library", "FOLDER"],
        ["library", "show", "plover-1/1", "--library", "FOLDER"],
    ],
)
def test_every_command_prints_de00(words: list[str], logs: list[Path], capsys: pytest.CaptureFixture[str]) -> None:
    first, other = logs
    given = {"LOG": first, "OTHER": other, "FOLDER": first.parent, "SHEET": first.parent / "own.yaml"}
    main([str(given.get(word, word)) for word in words])
    out, err = capsys.readouterr()
    typed = [word for word in words if "delta" in word or "ΔE" in word]
    text = re.sub(r"the maker says: .*", "", out + err).replace("grayscale ΔE₀₀ mean <= 2", "")
    for word in typed:
        text = text.replace(word, "")
    assert "dE00" in text
    assert "delta E" not in text
    assert "ΔE" not in text


def test_a_page_prints_its_signs(logs: list[Path], tmp_path: Path) -> None:
    first, other = map(str, logs)
    folder, sheet = str(logs[0].parent), str(logs[0].parent / "own.yaml")
    for words in (
        ["report", other, "--claims", sheet],
        ["compare", first, other],
        ["library", "site", "--library", folder],
    ):
        page = tmp_path / f"{words[0]}.html"
        assert main([*words, "-o", str(page)]) == 0
        text = page.read_text(encoding="utf-8").replace("Average delta E below 2", "").replace("delta E below 2", "")
        shown = re.sub(r"<(style|script)\b.*?</\1>", "", text, flags=re.DOTALL)
        assert "ΔE₀₀" in shown, words
        assert "dE00" not in shown, words
        assert "delta E" not in shown


@pytest.mark.parametrize("spelled", ["dE00", "ΔE₀₀", "ΔE00", "DE00"])
def test_every_spelling_of_every_figure_is_the_same_figure(spelled: str) -> None:
    every = list(declared_figures())
    differences = [one.example for one in every if "delta E" in one.name]
    assert len(differences) >= 6
    for name in differences:
        shown = plain_name(name)
        assert "delta" not in shown
        for typed in (name, shown, shown.replace("dE00", spelled), shown.replace("dE ITP", "ΔE ITP")):
            assert figure_called(typed, every)[0] == name
