"""report, compare and claims from the command line: what they write, say and refuse."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from benchd.cli import main
from benchd.exits import Exit
from benchd.profile import profile_store as library
from tests.report import logged


def two_logs(folder: Path, plan: str) -> tuple[str, str]:
    """Of invented displays that differ in luminance and black."""
    paths = []
    for name, white, black in (("a", 384.0, 0.35), ("b", 442.0, 0.31)):
        records = logged.records(plan, white_cd_m2=white, black_cd_m2=black, simulated=True)
        paths.append(str(logged.write(folder / f"{name}.log", records)))
    return paths[0], paths[1]


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """Two logs with every kind of SDR figure."""
    return two_logs(tmp_path_factory.mktemp("logs"), "sdr-standard")


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """Two logs of luminance and contrast: where it does not matter what is in them, they are sooner analysed."""
    return two_logs(tmp_path_factory.mktemp("small"), "quick")


@pytest.fixture(scope="module")
def swept(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A log of luminance and contrast at two settings of brightness."""
    path = tmp_path_factory.mktemp("swept") / "swept.log"
    return str(logged.write(path, logged.records(SWEPT, simulated=True)))


SWEPT = """\
plan: swept
warm_up: none
sweep:
  - {control: brightness, values: [50, 100]}
blocks:
  - luminance: {}
  - contrast: {kinds: [sequential]}
"""


def ran(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(words)
    out, err = capsys.readouterr()
    return code, out, err


def test_report_writes_a_page_and_plots(
    logs: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page, folder = tmp_path / "page.html", tmp_path / "plots"
    code, out, err = ran(capsys, "report", logs[0], "-o", str(page), "--plots", str(folder), "--claims", "plover-27")
    assert (code, out) == (Exit.COMPLETE, "")
    assert f"Page: {page}" in err
    text = page.read_text(encoding="utf-8")
    assert "SIMULATED" in text
    assert "Brightness: 350 nits" in text
    names = {path.stem for path in folder.iterdir()}
    assert {path.suffix for path in folder.iterdir()} == {".svg", ".png"}
    assert len(list(folder.iterdir())) == 2 * len(names)
    code, out, _ = ran(capsys, "report", logs[0], "-o", "-", "--claims", "plover-27")
    assert (code, out) == (Exit.COMPLETE, text), "byte by byte"


def test_report_says_what_it_needs(small: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = ran(capsys, "report", small[0])
    assert code == Exit.BAD_INPUT
    assert "-o PAGE.html" in err
    code, _, err = ran(capsys, "report", small[0], "-o", str(tmp_path / "no" / "page.html"))
    assert code == Exit.BAD_INPUT
    assert "can't be written" in err
    assert len(err.strip().splitlines()) == 1
    (tmp_path / "file").write_text("")
    code, _, err = ran(capsys, "report", small[0], "--plots", str(tmp_path / "file"))
    assert code == Exit.BAD_INPUT


def test_compare_as_text_and_json(logs: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ran(capsys, "compare", *logs, "--same-panel")
    assert code == Exit.COMPLETE
    assert out.splitlines()[0].startswith("SIMULATED")
    assert out.splitlines()[-1].startswith("SIMULATED")
    assert "white luminance" in out
    assert "same panel" in out
    code, out, _ = ran(capsys, "compare", *logs, "--same-panel", "--margin", "contrast=50%", "--json")
    document = json.loads(out)
    assert document["schema"] == "benchd.comparison/1"
    assert document["notice"] == "SIMULATED"
    (row,) = [row for row in document["rows"] if row["figure"] == "contrast"]
    assert row["margin"] == {"size": 50.0, "percent": True, "percent_of": "mean of both", "stated": True}
    assert row["sides"][0]["figure"]["simulated"] is True
    assert row["differences"][0] is None
    change = row["differences"][1]["relative"]["value"]
    assert change == pytest.approx(100 * (442.0 / 0.31) / (384.0 / 0.35) - 100, rel=0.01)
    assert [len(sample["logs"][0]["sha256"]) for sample in document["samples"]] == [64, 64]
    assert document["same_panel"][0]["evidence"]


def test_a_margin_that_is_typed_without_a_unit_is_shown_in_that_of_the_figure(
    small: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("--margin", "contrast=500", "--margin", "white luminance=3")
    code, out, _ = ran(capsys, "compare", *small, *words)
    assert code == Exit.COMPLETE
    [row] = [line for line in out.splitlines() if line.startswith("  contrast ")]
    assert row.endswith(" 500:1 *")
    assert re.search(r" \+[0-9.]+:1 ", row), "the difference too"
    assert "3 cd/m2 *" in out


def test_a_sheet_of_another_product_than_the_sample_is_noted(
    logs: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = library.read_text(library.find("claims", "plover-27"))
    other, page = tmp_path / "curlew-32.yaml", tmp_path / "page.html"
    other.write_text(text.replace("plover-27", "curlew-32").replace("Plover 27", "Curlew 32"), encoding="utf-8")
    said = "the sample is plover-27/1"
    code, out, _ = ran(capsys, "claims", str(other), logs[0], "--json")
    assert code == Exit.COMPLETE
    assert [said in note for note in json.loads(out)["notes"]] == [True]
    assert json.loads(ran(capsys, "claims", "plover-27", logs[0], "--json")[1])["notes"] == []
    assert said in " ".join(ran(capsys, "claims", str(other), logs[0])[1].split())
    ran(capsys, "report", logs[0], "-o", str(page), "--claims", str(other))
    assert said in page.read_text(encoding="utf-8")


def test_compare_writes_a_page(logs: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = tmp_path / "both.html"
    code, _, _ = ran(capsys, "compare", *logs, "-o", str(page))
    assert code == Exit.COMPLETE
    assert "SIMULATED" in page.read_text(encoding="utf-8")


def test_one_point_of_a_sweep_is_compared_with_a_log_without_one(
    small: tuple[str, str], swept: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = ran(capsys, "compare", small[0], swept, "--at", "brightness=100", "--json")
    assert code == Exit.COMPLETE
    document = json.loads(out)
    assert {"white luminance", "contrast"} <= {row["figure"] for row in document["rows"]}
    assert "display settings" not in document["conditions"], "brightness is a condition, which the other log lacks"
    assert "brightness" in document["conditions"]["not recorded"][0]


def test_a_log_that_has_no_part_in_a_comparison_is_named(
    small: tuple[str, str], swept: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _, err = ran(capsys, "compare", "--model", f"one={small[0]},{swept}", "--model", f"two={small[1]}")
    assert code == Exit.COMPLETE
    assert f"Note: {swept} has no part in this: it sweeps settings" in err
    _, _, err = ran(
        capsys,
        *("compare", "--model", f"one={small[0]},{swept}", "--model", f"two={small[1]}", "--at", "brightness=50"),
    )
    assert "has no part" not in err


def test_models_of_several_logs(logs: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    a, b = logs
    code, out, _ = ran(capsys, "compare", "--model", f"both={a},{b}", "--model", f"second={b}", "--json")
    document = json.loads(out)
    assert code == Exit.COMPLETE
    assert [sample["label"] for sample in document["samples"]] == ["both", "second"]
    (row,) = [row for row in document["rows"] if row["figure"] == "white luminance"]
    assert (row["sides"][0]["logs"], row["sides"][1]["logs"]) == (2, 1)
    assert row["sides"][0]["spread"] == pytest.approx((442.0 - 384.0) / 2**0.5, rel=0.01)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["compare", "{a}"], "needs two logs"),
        (["compare", "{a}", "{b}", "--margin", "contrast"], "write FIGURE=SIZE"),
        (["compare", "{a}", "{b}", "--margin", "contrast=0%"], "above zero"),
        (["compare", "{a}", "{b}", "--margin", "kontrast=5%"], "did you mean contrast"),
        (["compare", "{all_a}", "{all_b}", "--margin", "non-uniformity of white=5%"], "stated in points"),
        (["compare", "{a}", "--model", "two"], "write NAME=LOG,LOG"),
        (["compare", "--model", "x={a},{a}", "--model", "y={b}"], "given twice"),
        (["compare", "{a}", "nowhere.log"], "nowhere.log"),
        (["compare", "{a}", "{a}"], "the same log"),
        (["compare", "{a}", "{b}", "--margin", "contrast=150 cd/m2"], "the figure's unit is :1, not cd/m2"),
        (["compare", "{a}", "{b}", "--at", "brightness=50"], "none of these logs sweeps brightness"),
        (["compare", "{a}", "{swept}"], "2 points of a sweep (brightness=50; brightness=100); compare with one point"),
        (["compare", "{a}", "{swept}", "--at", "brightness=7"], "no point has brightness=7"),
        (["compare", "{a}", "{swept}", "--at", "bright"], "write control=value"),
        (["claims", "{a}", "plover-27"], "is a log; the sheet of claims comes first"),
        (["claims", "plover", "{a}"], "did you mean plover-27"),
        (["claims", "plover-27", "nowhere.log"], "nowhere.log"),
        (["compare", "{a}", "{b}", "--json", "-o", "-"], "both go to stdout"),
        (["report", "{a}", "-o", "/"], "names no file"),
    ],
)
def test_what_is_refused_is_one_sentence(
    logs: tuple[str, str],
    small: tuple[str, str],
    swept: str,
    words: list[str],
    said: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    paths = {"a": small[0], "b": small[1], "all_a": logs[0], "all_b": logs[1], "swept": swept}
    code, out, err = ran(capsys, *(word.format(**paths) for word in words))
    assert (code, out) == (Exit.BAD_INPUT, "")
    assert said in err
    assert "Traceback" not in err


@pytest.mark.parametrize(
    "words",
    [
        ["report", "{a}", "-o", "{a}"],
        ["compare", "{a}", "{b}", "-o", "{a}"],
        ["results", "{b}", "--format", "parquet", "-o", "{a}"],
        ["library", "export", "--library", "{folder}", "-o", "{a}"],
        ["library", "export", "--library", "{folder}", "--format", "parquet", "-o", "{a}"],
        ["library", "site", "--library", "{folder}", "--yes", "-o", "{a}"],
    ],
)
def test_nothing_is_written_over_a_log(
    small: tuple[str, str], tmp_path: Path, words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """A log is the only copy of what was measured; a slip of the hand must not cost a night."""
    own = tmp_path / "a.log"
    own.write_bytes(Path(small[0]).read_bytes())
    code, _, err = ran(capsys, *(word.format(a=own, b=small[1], folder=tmp_path) for word in words))
    assert code == Exit.BAD_INPUT
    assert "is a log, which nothing is written over" in err
    assert own.read_bytes() == Path(small[0]).read_bytes()


def test_the_panel_question_says_whose_evidence_it_is(
    logs: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    models = ("--model", f"one={logs[0]},{logs[1]}", "--model", f"two={logs[1]}")
    _, out, _ = ran(capsys, "compare", *models, "--same-panel", "--json")
    assert json.loads(out)["same_panel"][0]["answer"].startswith("From one unit of each, ")
    _, out, _ = ran(capsys, "compare", *logs, "--same-panel", "--json")
    assert "From one unit" not in json.loads(out)["same_panel"][0]["answer"]


def test_claims_as_text_and_json(logs: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ran(capsys, "claims", "plover-27", logs[0])
    assert code == Exit.COMPLETE
    assert "the maker says: “Brightness: 350 nits”" in out
    assert "conditions: brightness 100, preset standard" in out
    assert out.splitlines()[0].startswith("SIMULATED")
    code, out, _ = ran(capsys, "claims", "plover-27", *logs, "--json")
    document = json.loads(out)
    assert document["schema"] == "benchd.claims/1"
    assert {claim["outcome"] for claim in document["claims"]} <= {"met", "not met", "inconclusive", "not measured"}
    (typical,) = [claim for claim in document["claims"] if claim["typical"]]
    assert (typical["low"], typical["allowance_percent"]) == (900.0, 10.0)
    assert len(typical["findings"]) == 2


CLAIM_OF_A_SWEEP = """\
sheet: own
product: none, invented
source: a test
claims:
  - {claim: "white luminance >= 350 cd/m2", wording: "350"}
"""


def test_a_point_of_a_sweep_for_claims_on_page_and_in_a_folder(
    swept: str, small: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = tmp_path / "own.yaml"
    sheet.write_text(CLAIM_OF_A_SWEEP)
    claims = ("--claims", str(sheet))
    for words in (
        ["report", swept, "-o", str(tmp_path / "page.html")],
        ["publish", swept, "-o", str(tmp_path / "out")],
    ):
        code, _, err = ran(capsys, *words, "--at", "brightness=100")
        assert (code, "add --claims SHEET" in err) == (Exit.BAD_INPUT, True)
        code, _, err = ran(capsys, *words, *claims, "--at", "brightness=7")
        assert (code, "no point has brightness=7" in err) == (Exit.BAD_INPUT, True)
        code, _, err = ran(capsys, *words, *claims, "--at", "preset=warm")
        assert (code, "none of these logs sweeps preset" in err) == (Exit.BAD_INPUT, True)
        assert not Path(words[-1]).exists()
        code, _, err = ran(capsys, *words, *claims, "--at", "brightness=100")
        assert code == Exit.COMPLETE, err
    folder = tmp_path / "out"
    for page in (tmp_path / "page.html", folder / "index.html"):
        text = page.read_text(encoding="utf-8")
        assert "at brightness=100: measured" in text.replace("\u00a0", " ")
        assert "point not named" not in text
    [claim] = json.loads((folder / "data" / "claims.json").read_text())["claims"]
    assert claim["outcome"] != "point not named"
    assert "at brightness=100 where they name no point" in (folder / "README.txt").read_text()
    assert ran(capsys, "recheck", str(folder))[0] == Exit.COMPLETE
    manifest = folder / "publication.json"
    for other in ("brightness=50", "brightness=7", "preset=1", "bright"):
        text = manifest.read_text()
        manifest.write_text(text.replace('"brightness=100"', f'"{other}"'))
        code, out, err = ran(capsys, "recheck", str(folder))
        assert code in (Exit.NO, Exit.BAD_INPUT), other
        assert "publication.json" in out + err
        manifest.write_text(text)


@pytest.mark.parametrize("command", ["report", "compare", "claims"])
def test_help_teaches(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([command, "--help"])
    assert ended.value.code == 0
    assert len(capsys.readouterr().out.splitlines()) > 12
