"""The checks themselves, one function each: (kind, example) -> asserts."""

from __future__ import annotations

import csv
import html
import io
import json
import math
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from dataclasses import is_dataclass
from functools import cache
from importlib import import_module

from benchd.analysis.catalogue import AT
from benchd.analysis.catalogue import figures as catalogue
from benchd.analysis.measurement import result_part
from benchd.analysis.results import Results
from benchd.analysis.verdicts.claim_verdicts import Claim, check_claims
from benchd.analysis.verdicts.comparison import NOT_TESTED, Sample, compare
from benchd.errors import ProfileError
from benchd.library.scan import open_library, refresh
from benchd.measurements import registry
from benchd.measurements.declared_figure import declared_figures
from benchd.plan.bench_fit import fit
from benchd.plan.keys_page import keys_page
from benchd.plan.measurement import plan_part
from benchd.plan.schema import files as schemas
from benchd.plan.steps import describe, digest
from benchd.report.data.document import quantities
from benchd.report.data.results_schema import results_schema
from benchd.report.figure_text import bare, value_and_interval
from benchd.report.model import Line, Together
from benchd.report.summary import summary_of
from benchd.report.units import printed
from benchd.run.job import bench_job
from benchd.testing.example import KNOB, POINTS, Example


def modules_are_all_there(kind: str, example: Example) -> None:
    """Four modules, each with its part, and a page to read first."""
    for module in registry.MODULES:
        registry.part(kind, module)
    package = import_module(registry.claim_of(kind).package)
    assert package.__doc__, "the package's docstring says what is measured, and how"
    assert registry.schema(kind) >= 1
    assert registry.is_built_in(kind) or package.API == import_module("benchd.api").API


def imports_stay_cheap(kind: str, example: Example) -> None:
    """Plan, results and show import no numpy, in a fresh interpreter."""
    heavy = _heavy(registry.kinds(), tuple(sys.path))
    assert not heavy[kind], f"{', '.join(heavy[kind])} imports numpy"


def schema_and_keys_have_every_key(kind: str, example: Example) -> None:
    """The plan's schema and the page of keys know the block and all its keys."""
    model = plan_part(kind).model
    definitions = json.loads(schemas()["plan.schema.json"])["$defs"]
    reference = definitions["Block"]["properties"][kind]["$ref"].rpartition("/")[2]
    keys = keys_page()
    for name in model.model_fields:
        assert name in definitions[reference]["properties"], f"{name} is not in the schema"
        assert f"| `{name}` |" in keys, f"{name} is not in the page of keys"


def example_becomes_steps(kind: str, example: Example) -> None:
    """The same steps every time, of this block alone, each with its own name."""
    job = example.job(kind)
    assert job.steps, "the example measures nothing"
    assert digest(job.steps) == digest(example.job(kind).steps)
    assert len({step.id for step in job.steps}) == len(job.steps)
    assert {step.block for step in job.steps} == {kind}, "steps carry the name of their block"
    [entry] = describe(job.plan, job.files)
    assert json.loads(json.dumps(entry)) == entry, "what a log keeps of the block is plain data"
    assert (entry["name"], entry["kind"]) == (kind, kind)


def wrong_key_is_refused_at_its_place(kind: str, example: Example) -> None:
    """A key that it does not know is a fault with line and column."""
    try:
        example.job(kind, more={"no_such_key": 1})
    except ProfileError as error:
        [fault] = error.faults
        line = example.text(kind, more={"no_such_key": 1}).splitlines()[-1]
        assert "unknown key 'no_such_key'" in fault.text
        assert fault.column == line.index('"no_such_key"') + 1
    else:
        raise AssertionError("an unknown key was accepted")


def missing_role_is_refused(kind: str, example: Example) -> None:
    """A bench without an instrument that it needs can't run it, and says which."""
    job, bench = example.job(kind), bench_job("sim-hdr-lcd" if example.hdr else "sim-office").bench
    assert plan_part(kind).roles, "a measurement needs an instrument"
    for role in plan_part(kind).roles:
        without = bench.model_copy(update={"instruments": bench.instruments.model_copy(update={role: None})})
        refusals = fit(job.plan, without, None).refusals
        assert any(f"block {kind} needs the instrument {role}" in text for text in refusals), refusals


def log_names_its_package(kind: str, example: Example) -> None:
    """The first record of a run says whose the block is."""
    claim = registry.claim_of(kind)
    expected = {"package": claim.distribution, "version": claim.version, "schema": registry.schema(kind)}
    assert example.head["measurements"][kind] == expected
    assert example.records[-1].kind == "ended"


def result_is_there(kind: str, example: Example) -> None:
    """A whole log gives a result of the declared class, without an absence, and the same each time."""
    result = example.results.blocks[kind]
    shape = result_part(kind).shape
    assert type(result) is shape
    assert is_dataclass(shape)
    assert shape.__dataclass_params__.frozen  # type: ignore[attr-defined]
    assert result.kind == kind
    assert result.block == kind
    assert not _absences(example.results, kind), _absences(example.results, kind)
    assert registry.part(kind, "analysis").__module__.startswith(registry.claim_of(kind).package)


def figures_are_well_formed(kind: str, example: Example) -> None:
    """Its figures have names of their own, a unit, a direction and a value, and nothing is held back."""
    own = list(result_part(kind).figures(example.results.blocks[kind], example.results.target))
    assert own, "no figure is declared"
    assert len({one.name for one in own}) == len(own), "two figures of one name"
    for one in own:
        assert one.block == kind, f"{one.name} is of block {one.block!r}"
        assert one.name == one.name.strip(), one.name
        assert one.name, "a figure without a name"
        assert one.unit, f"{one.name} has no unit"
        assert one.how, f"{one.name} does not say what it means"
        declared = [said for said in declared_figures() if said.called(one.name)]
        assert any((said.topic, said.unit, said.better) == (one.topic, one.unit, one.better) for said in declared), (
            f"{one.name} is none of the figures that a ResultPart has as declared"
        )
        assert one.quantity.unit == one.quantity_unit, f"{one.name} in {one.quantity.unit}"
        assert one.better in ("more", "less", "nearer"), one.better
        assert one.quantity.value is None or math.isfinite(one.quantity.value), one.name
        assert AT not in one.name, f"{one.name}: {AT!r} stands before the settings of a sweep's point"
    shown = [one.name for one in own if one.quantity.present and not one.stand_in]
    assert sorted(shown) == sorted(one.name.removesuffix(f" ({kind})") for one in example.figures_of(kind))


def json_has_every_figure(kind: str, example: Example) -> None:
    """The block, and each figure of the catalogue with its unit and direction; none extra."""
    import jsonschema  # of whoever runs the checks

    block = example.document["blocks"][kind]
    assert block["kind"] == kind
    listed = {name: one for name, one in example.document["figures"].items() if one["block"] == kind}
    assert set(listed) == {one.name for one in example.figures_of(kind)}
    for one in example.figures_of(kind):
        entry = listed[one.name]
        assert (entry["unit"], entry["better"], entry["quantity"]["value"]) == (
            one.quantity_unit,
            one.better,
            one.quantity.value,
        )
        assert entry["quantity"]["simulated"] == example.results.simulated
    only = {**example.document, "blocks": {kind: block}, "figures": listed}
    jsonschema.Draft202012Validator(results_schema()).validate(only)


def csv_has_every_number(kind: str, example: Example) -> None:
    """A row for each number of the block."""
    rows = {row["path"]: row["value"] for row in csv.DictReader(io.StringIO(example.csv))}
    numbers = [(path, one["value"]) for path, one in quantities(example.document) if path.startswith(f"{kind}/")]
    assert numbers, "the block has no number"
    for path, value in numbers:
        assert rows[path] == ("" if value is None else str(value)), path


def terminal_and_page_show_it(kind: str, example: Example) -> None:
    """One section on either, with what stands in it, and a line of the summary."""
    show, result = registry.part(kind, "show"), example.results.blocks[kind]
    section = show.section(result)
    assert section.block == kind
    assert section.items, "an empty section"
    show.plots([("", result)], kind, example.results.simulated)
    text, page = (" ".join(where.split()) for where in (example.terminal, html.unescape(example.page)))
    for name in (kind, *(one.name for one in section.items if isinstance(one, Line | Together))):
        assert name in text, f"{name!r} is not on the terminal"
    assert section.title in page, "the page does not show the block"
    [lines] = [block.lines for block in summary_of(example.results).blocks if block.block == kind]
    assert any(line.figure.quantity.present for line in lines), "no line of the summary has a figure"
    for line in lines:
        assert printed(line.name).lower() in page.lower(), f"{line.name} is not in the page's summary"
    for one in example.figures_of(kind):
        if one.headline:
            ways = (value_and_interval(one.quantity, one.unit)[0], bare(one.quantity, one.unit))
            shown = (text.replace("-", "\N{MINUS SIGN}") for text in (*ways, *(f"+{way}" for way in ways)))
            assert any(f">{text}" in page for text in shown), f"{one.name} is not on the page"


def compares_with_itself(kind: str, example: Example) -> None:
    """Every figure is compared, and a log is not different from itself."""
    samples = [Sample(label, (example.results,), (label,)) for label in ("one", "other")]
    rows = {row.headline.name: row for row in compare(samples).rows}
    for one in example.figures_of(kind):
        if one.headline and one.name not in NOT_TESTED:
            assert one.name in rows, f"{one.name} is not compared"
            difference = rows[one.name].differences[1]
            assert difference is not None, one.name
            assert "different" not in difference.answer, f"{one.name}: {difference}"


def claims_are_judged(kind: str, example: Example) -> None:
    """A maker's claim of each figure is held against the log, in the figure's own unit."""
    for one in example.figures_of(kind):
        if one.claimable and one.headline:
            claim = Claim(one.name, None, math.inf, one.quantity.unit, f"{one.name} <= inf", "", "")
            [outcome] = check_claims([claim], [example.results])
            assert outcome.outcome == "met", f"{one.name}: {outcome}"


def library_knows_it(kind: str, example: Example) -> None:
    """The index of a folder of logs has every figure, with its unit and direction."""
    names = _library(example)
    for one in example.figures_of(kind):
        if one.headline:
            assert names.get(one.name) == (one.unit, one.better), f"{one.name}: {names.get(one.name)}"


def sweep_has_every_figure(kind: str, example: Example) -> None:
    """Each figure at each point of a sweep, under its name with the point."""
    swept = {one.name for one in catalogue(example.swept)}
    for one in example.figures_of(kind):
        if one.headline:
            for value in POINTS:
                name = f"{one.name.removesuffix(f' ({kind})')}{AT}{KNOB}={value}"
                assert name in swept, f"{name} is not there"


def nothing_is_lost_of_a_log_cut_short(kind: str, example: Example) -> None:
    """What the plan requests is a result or an absence with its reason."""
    whole = {one.name for one in example.figures_of(kind)}
    for cut in example.cut(kind):
        assert cut.interrupted
        absences = _absences(cut, kind)
        assert kind in cut.blocks or absences, "the block is neither a result nor an absence"
        lost = whole - {one.name for one in catalogue(cut) if one.block == kind}
        assert not lost or absences, f"{', '.join(sorted(lost))}: lost without a reason"
        assert all(one.why for one in cut.absent), absences


CHECKS: tuple[Callable[[str, Example], None], ...] = (
    modules_are_all_there,
    imports_stay_cheap,
    schema_and_keys_have_every_key,
    example_becomes_steps,
    wrong_key_is_refused_at_its_place,
    missing_role_is_refused,
    log_names_its_package,
    result_is_there,
    figures_are_well_formed,
    json_has_every_figure,
    csv_has_every_number,
    terminal_and_page_show_it,
    compares_with_itself,
    claims_are_judged,
    library_knows_it,
    sweep_has_every_figure,
    nothing_is_lost_of_a_log_cut_short,
)
"""All of them, in the order of a run."""


def _absences(results: Results, kind: str) -> list[str]:
    return [f"{one.result}: {one.why}" for one in results.absent if one.result.partition("/")[0] == kind]


_HEAVY = """
import sys
from benchd.measurements import registry
from benchd.measurements.declared_figure import declared_figures
sys.path[:] = {path!r}
registry.all_kinds()
for kind in {kinds!r}:
    for module in ("plan", "results", "show"):
        try:
            registry.part(kind, module)
        except Exception:
            continue
        if "numpy" in sys.modules:
            print(kind, module)
            raise SystemExit
"""


@cache
def _heavy(kinds: tuple[str, ...], path: tuple[str, ...]) -> dict[str, list[str]]:
    """The first module that brings numpy with it, by kind."""
    words = [sys.executable, "-c", _HEAVY.format(kinds=kinds, path=list(path))]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    found: dict[str, list[str]] = {kind: [] for kind in kinds}
    for line in done.stdout.splitlines():
        kind, module = line.split()
        found[kind].append(f"{module}.py")
    return found


def _library(example: Example) -> dict[str, tuple[str, str]]:
    example.log.sha256  # noqa: B018 - the log is there
    with closing(open_library(example.folder)) as store:
        refresh(store, example.folder)
        return {one.name: (one.kind, one.better) for one in store.names()}
