"""A measurement of another package: everywhere in benchd by its entry point alone, with no file of benchd touched."""

from __future__ import annotations

import ast
import csv
import html
import io
import json
import re
import subprocess
import sys
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from benchd import installed
from benchd.cli import main
from benchd.errors import PackageBroken
from benchd.measurements import registry
from benchd.plan.keys_page import keys_page as keys
from benchd.plan.schema import files as schemas
from benchd.plan.steps import describe
from benchd.report.plots.plot import Plot
from benchd.run.job import plan_job
from benchd.testing import check_measurements
from benchd.testing.new_measurement import package_of, write
from tests.measurements.dist import on_path
from tests.measurements.dist import write as write_metadata
from tests.measurements.in_process import session

ROOT = Path(__file__).resolve().parents[3]
FILES = package_of("gloss ratio")
BLOCKS = "blocks:\n  - gloss_ratio: {percent: 80.0}\n"
SHEET = """\
sheet: heathfield-1
product: an invented display
source: an invented data sheet
claims:
  - claim: gloss ratio >= 1 %
    wording: "brilliant to the corners"
"""
Benchd = Callable[..., str]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """What `benchd new measurement 'gloss ratio'` writes, installed."""
    folder = tmp_path_factory.mktemp("site")
    write("gloss ratio", folder / "package")
    project = tomllib.loads((folder / "package" / "pyproject.toml").read_text())["project"]
    write_metadata(folder / "package", project["name"], project["entry-points"], project["version"])
    with on_path(folder / "package"):
        yield folder


@pytest.fixture(scope="module")
def log(site: Path) -> Path:
    """The log of a plan with it."""
    return measured(site, "plain", BLOCKS)


def measured(folder: Path, name: str, text: str) -> Path:
    plan = folder / f"{name}.yaml"
    plan.write_text(f"plan: {name}\nwarm_up: none\n{text}")
    place = folder / "logs" / f"{name}.log"
    place.parent.mkdir(exist_ok=True)
    session(plan_job(str(plan)), place)
    return place


@pytest.fixture
def benchd(capsys: pytest.CaptureFixture[str]) -> Benchd:
    """A command and what it prints."""

    def run(*words: object, code: int = 0) -> str:
        assert main([str(word) for word in words]) == code, capsys.readouterr().err
        return capsys.readouterr().out

    return run


def test_it_imports_the_api_alone() -> None:
    for path, text in FILES.items():
        if path.endswith(".py"):
            allowed = ("benchd.testing",) if path.startswith("test_") else ("benchd.api.",)
            for node in ast.walk(ast.parse(text)):
                names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
                names += [one.name for one in node.names] if isinstance(node, ast.Import) else []
                assert all(not name.startswith("benchd") or name.startswith(allowed) for name in names), (path, names)


def test_it_passes_every_check(site: Path) -> None:
    [report] = check_measurements(["gloss_ratio"], session)
    assert not report.faults


def test_a_plan_its_schema_and_its_keys_know_it(site: Path, log: Path, benchd: Benchd) -> None:
    planned = json.loads(benchd("plan", site / "plain.yaml", "--bench", "sim-office", "--json"))
    assert [block["block"] for block in planned["blocks"]] == ["gloss_ratio"]
    assert planned["steps"] == 2
    schema = json.loads(schemas()["plan.schema.json"])["$defs"]
    assert schema["GlossRatio"]["properties"]["corner"]["exclusiveMaximum"] == 0.5
    assert "| `corner` | the place near the corner, part of width and height |" in keys()


def test_its_figures_are_in_text_json_csv_and_page(log: Path, benchd: Benchd, tmp_path: Path) -> None:
    assert re.search(r"^  gloss ratio +[\d.]+ (± [\d.]+ )?%", benchd("results", log), re.MULTILINE), (
        "a line of the summary"
    )
    assert "a full-screen grey of 80 %" in benchd("results", log, "--details")
    assert "a full-screen grey of 80 %" in benchd("results", log, "--block", "gloss_ratio")
    document = json.loads(benchd("results", log, "--json"))
    figure = document["figures"]["gloss ratio"]
    assert (figure["unit"], figure["better"], figure["conditions"]["grey"]) == ("%", "more", "80 %")
    assert document["blocks"]["gloss_ratio"]["ratio"] == figure["quantity"]
    rows = {row["path"]: row for row in csv.DictReader(io.StringIO(benchd("results", log, "--format", "csv")))}
    assert float(rows["gloss_ratio/ratio"]["value"]) == figure["quantity"]["value"]
    benchd("report", log, "--output", tmp_path / "page.html")
    page = (tmp_path / "page.html").read_text()
    assert "Gloss ratio" in page
    assert "SIMULATED" in page


def test_it_is_compared_claimed_and_ranked(site: Path, log: Path, benchd: Benchd) -> None:
    other = measured(site, "again", f"seed: 2\n{BLOCKS}")
    compared = json.loads(benchd("compare", log, other, "--json"))
    assert "gloss ratio" in json.dumps(compared)
    sheet = site / "sheet.yaml"
    sheet.write_text(SHEET)
    assert "MET" in benchd("claims", sheet, log).upper()
    assert "gloss ratio" in benchd("library", "list", "--figures", "--library", site / "logs")
    assert "example/1" in benchd("library", "rank", "gloss-ratio", "--library", site / "logs")


def test_it_stands_in_a_sweep(site: Path, benchd: Benchd) -> None:
    swept = measured(site, "swept", f"sweep: [{{control: brightness, values: [20, 80]}}]\n{BLOCKS}")
    figures = json.loads(benchd("results", swept, "--json"))["sweep"]["rows"]
    assert all("gloss ratio" in row["figures"] for row in figures.values())
    assert re.search(r"^ +gloss ratio +gloss light\n +brightness +% +cd/m2$", benchd("results", swept), re.MULTILINE)
    text = benchd("results", swept, "--details")
    assert re.search(r"^ +gloss ratio +gloss light\n +brightness +% +± +cd/m2", text, re.MULTILINE), text
    assert "gloss ratio over" in text
    benchd("report", swept, "--output", site / "swept.html")
    page = (site / "swept.html").read_text()
    assert "Gloss ratio, %" in page
    assert "Gloss ratio over brightness" in page, "a plot"
    benchd("library", "site", "--library", site / "logs", "-o", site / "ranks.html")
    assert "Gloss ratio" in (site / "ranks.html").read_text(), "it has a short name, so it has a column"


def test_the_refusals_and_the_doctor_name_it(site: Path, benchd: Benchd, tmp_path: Path) -> None:
    (tmp_path / "plan.yaml").write_text("plan: plan\nblocks:\n  - gloss_ration: {}\n")
    faults = json.loads(benchd("plan", tmp_path / "plan.yaml", "--json", code=2))
    assert "did you mean 'gloss_ratio'? (gloss ratio: one grey near a corner" in json.dumps(faults)
    assert "gloss_ratio of gloss-ratio 0.1.0, imported" in benchd("doctor")


def test_without_its_package_all_else_of_a_log_is_read(site: Path, benchd: Benchd) -> None:
    both = measured(site, "both", f"{BLOCKS}  - luminance: {{}}\n")
    sys.path.remove(str(site / "package"))
    try:
        installed.forget()
        document = json.loads(benchd("results", both, "--json"))
    finally:
        sys.path.insert(0, str(site / "package"))
        installed.forget()
    assert document["absent"] == [
        {
            "result": "gloss_ratio",
            "why": "measurement 'gloss_ratio' is of gloss-ratio 0.1.0, which is not installed here; install it",
        }
    ]
    assert set(document["blocks"]) == {"luminance"}


def test_code_that_fails_costs_its_own_block(
    site: Path, log: Path, benchd: Benchd, monkeypatch: pytest.MonkeyPatch
) -> None:
    part = registry.part("gloss_ratio", "results")

    def fails(one: object, target: object) -> object:
        raise ZeroDivisionError("by the corner")

    monkeypatch.setattr(sys.modules["gloss_ratio.results"], "PART", replace(part, figures=fails))
    document = json.loads(benchd("results", log, "--json"))
    assert document["absent"] == [
        {
            "result": "gloss_ratio",
            "why": "measurement 'gloss_ratio' of gloss-ratio 0.1.0 can't be used: ZeroDivisionError: by the corner",
        }
    ]


def raises(*arguments: object) -> object:
    raise ZeroDivisionError("by the corner")


FAILS = "measurement 'gloss_ratio' of gloss-ratio 0.1.0 can't be used: ZeroDivisionError: by the corner"


@pytest.mark.parametrize("part", ["steps", "describe", "profiles"])
def test_a_plan_whose_measurement_fails_is_refused_with_its_name(
    part: str, site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (site / "fails.yaml").write_text(f"plan: fails\n{BLOCKS}")
    fails = replace(registry.part("gloss_ratio", "plan"), **{part: raises})
    monkeypatch.setattr(sys.modules["gloss_ratio.plan"], "PART", fails)
    with pytest.raises(PackageBroken) as error:
        job = plan_job(str(site / "fails.yaml"))
        describe(job.plan, job.files)
    assert str(error.value) == FAILS


@pytest.mark.parametrize("part", ["section", "plots", "colours", "alike", "against", "brief", "draw", "wrong type"])
def test_a_part_of_a_report_that_fails_costs_its_own_kind(
    part: str, site: Path, benchd: Benchd, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = registry.part("gloss_ratio", "show")
    changed = {part: raises}
    if part == "draw":
        changed = {"plots": lambda several, name, simulated: [Plot(name, "Gloss", "gloss", raises, simulated)]}
    if part == "wrong type":
        changed = {"plots": lambda several, name, simulated: None, "colours": lambda result: 7}
    monkeypatch.setattr(sys.modules["gloss_ratio.show"], "PART", replace(shown, **changed))
    first, other = (site / "logs" / f"{name}.log" for name in ("luminance", "luminance-2"))
    if not first.exists():
        measured(site, "luminance", f"{BLOCKS}  - luminance: {{}}\n")
        measured(site, "luminance-2", f"{BLOCKS}  - luminance: {{}}\n")
    benchd("report", first, "--output", site / "one.html", "--plots", site / "plots")
    benchd("compare", first, other, "--output", site / "two.html")
    page = html.unescape((site / "one.html").read_text())
    told = "ZeroDivisionError" if part != "wrong type" else "TypeError: .NoneType. object is not iterable"
    assert re.search(told, page) or part == "brief"
    assert "Luminance" in page
    assert "gloss ratio" in html.unescape((site / "two.html").read_text())
    if part in ("plots", "alike", "draw"):
        assert "by the corner" in (site / "two.html").read_text()
    full, short = (" ".join(benchd("results", first, *more).split()) for more in (("--details",), ()))
    assert (FAILS in full) == (part in ("section", "colours", "alike", "against"))
    assert (FAILS in short) == (part == "brief")
    assert "gloss ratio" in short, "its figures are declared"


def test_the_library_reads_a_log_again_once_its_measurement_is_installed(site: Path, benchd: Benchd) -> None:
    both = measured(site, "indexed", f"{BLOCKS}  - luminance: {{}}\n")
    (site / "alone").mkdir()
    both.rename(site / "alone" / both.name)
    sys.path.remove(str(site / "package"))
    try:
        installed.forget()
        assert "gloss ratio" not in benchd("library", "list", "--figures", "--library", site / "alone")
    finally:
        sys.path.insert(0, str(site / "package"))
        installed.forget()
    assert "gloss ratio" in benchd("library", "list", "--figures", "--library", site / "alone")


def test_the_test_that_comes_with_it_passes_as_written(site: Path) -> None:
    folder = site / "package"
    words = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "test_gloss_ratio.py"]
    done = subprocess.run(words, cwd=folder, capture_output=True, text=True, env={"PYTHONPATH": ":".join(sys.path)})
    assert done.returncode == 0, done.stdout[-2000:]


def test_the_recipe_for_developers_is_that_test() -> None:
    assert f"```python\n{FILES['test_gloss_ratio.py']}```" in (ROOT / "DEVELOPERS.md").read_text()


def test_every_spelling_of_the_name_is_replaced() -> None:
    files = package_of("black level")
    assert not [path for path, text in files.items() if "gloss" in (path + text).lower()]
    assert set(files) == {path.replace("gloss_ratio", "black_level") for path in FILES}
    assert 'black_level = "black_level"' in files["pyproject.toml"]


@pytest.mark.parametrize("name", ["contrast", "json", "Gloss", "2nd", "../gloss", "class"])
def test_a_name_that_can_not_be_one_is_refused(name: str, tmp_path: Path, benchd: Benchd) -> None:
    benchd("new", "measurement", name, "--output", tmp_path / "new", code=2)
    assert not (tmp_path / "new").exists()


def test_the_command_writes_it(tmp_path: Path, benchd: Benchd) -> None:
    out = benchd("new", "measurement", "dark level", "--output", tmp_path / "new")
    assert str(tmp_path / "new" / "dark_level" / "plan.py") in out
    benchd("new", "measurement", "dark level", "--output", tmp_path / "new", code=2)
    assert not registry.is_known("dark_level")
