"""Kinds of measurement that other packages add, and the four ways in which one can't be used."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchd import installed
from benchd.cli import main
from benchd.errors import (
    ClaimedTwice,
    KindUnknown,
    PackageBroken,
    PackageError,
    PackageMissing,
    PackageNewer,
)
from benchd.measurements import registry
from benchd.plan.schema import files as schemas
from benchd.report.data.results_schema import results_schema
from tests.measurements.dist import INSTRUMENTS, MEASUREMENTS, on_path, package, write
from tests.plan.helpers import faults, plan_of

PLAN = """
from benchd.api.plan import BlockBody, PlanPart

class Haze(BlockBody):
    \"""Haze of the screen.\"""

PART = PlanPart(Haze, lambda *_: iter(()), lambda *_: {}, example={})
"""
RESULTS = """
from dataclasses import dataclass
from benchd.api.results import ResultPart

@dataclass(frozen=True)
class Haze:
    \"""Haze.\"""

    block: str

PART = ResultPart(Haze, lambda *_: iter(()), lambda _: iter(()))
"""
SHOW = "from benchd.api.show import ShowPart\nPART = ShowPart(print)\n"


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Path]:
    """A folder of installed packages; each claims a kind and has a fault of its own."""
    write(tmp_path, "haze-pack", {MEASUREMENTS: {"haze": "haze", "contrast": "haze"}})
    package(tmp_path, "haze", plan=PLAN, results=RESULTS, analysis="PART = print\n", show=SHOW)
    write(tmp_path, "gone-pack", {MEASUREMENTS: {"gone": "gone_elsewhere"}})
    write(tmp_path, "torn-pack", {MEASUREMENTS: {"torn": "torn", "numberless": "numberless", "hollow": "hollow"}})
    package(tmp_path, "torn", plan="import nowhere_at_all\n")
    package(tmp_path, "hollow", plan="PART = 7\n")
    package(tmp_path, "numberless", init='"""No number."""\n')
    write(tmp_path, "late-pack", {MEASUREMENTS: {"late": "late"}}, "7.0")
    package(tmp_path, "late", init="API = 2\n", plan="raise SystemError('never imported')\n")
    for one in ("first", "second"):
        write(tmp_path, f"{one}-pack", {MEASUREMENTS: {"twin": f"twin_{one}"}})
        package(tmp_path, f"twin_{one}", plan=PLAN)
    write(tmp_path, "other-pack", {INSTRUMENTS: {"pen": "pen"}})
    with on_path(tmp_path):
        yield tmp_path


FOUR = {
    "gone": (
        PackageMissing,
        "measurement 'gone' is in package gone_elsewhere of gone-pack 1.2, and that is not there; install gone-pack "
        "again",
    ),
    "torn": (
        PackageBroken,
        "measurement 'torn' of torn-pack 1.2 can't be used: ModuleNotFoundError: No module named 'nowhere_at_all'",
    ),
    "numberless": (
        PackageBroken,
        "measurement 'numberless' of torn-pack 1.2 can't be used: numberless does not say its API; write API = 1",
    ),
    "hollow": (PackageBroken, "measurement 'hollow' of torn-pack 1.2 can't be used: hollow.plan.PART is no PlanPart"),
    "late": (
        PackageNewer,
        "measurement 'late' of late-pack 7.0 is written for number 2 of benchd.api, and benchd 0.1.0 has number 1; "
        "install a version of benchd that fits",
    ),
    "twin": (
        ClaimedTwice,
        "measurement 'twin' is claimed by first-pack 1.2 (twin_first) and second-pack 1.2 (twin_second); uninstall all "
        "but one",
    ),
}


@pytest.mark.parametrize("kind", FOUR)
def test_each_fault_has_its_own_error_and_costs_its_own_kind(site: Path, kind: str) -> None:
    error, text = FOUR[kind]
    with pytest.raises(PackageError) as raised:
        registry.part(kind, "plan")
    assert (type(raised.value), str(raised.value)) == (error, text)
    assert registry.part("haze", "plan").model.__name__ == "Haze"
    found = faults(f"plan: night\nblocks:\n  - contrast: {{}}\n  - {kind}: {{percent: 3}}\n  - luminence: {{}}\n")
    assert found[0] == f"night.yaml:4:5: {text}"
    assert found[1].startswith("night.yaml:5:5: unknown key 'luminence'; did you mean 'luminance'?")
    assert len(found) == 2


def test_an_unknown_kind_is_named_with_the_nearest_installed_one(site: Path) -> None:
    [found] = faults("plan: night\nblocks:\n  - haxe: {}\n")
    assert "unknown key 'haxe'; did you mean 'haze'?" in found
    with pytest.raises(KindUnknown, match="knows no measurement 'haxe', and no installed package adds one"):
        registry.part("haxe", "plan")


def test_a_built_in_kind_is_never_replaced_and_reads_no_metadata(site: Path) -> None:
    plan_of("  - contrast: {}")
    assert not installed.claims_so_far(registry.GROUP)
    assert registry.claim_of("contrast").package == "benchd.measurements.contrast"
    assert registry.kinds() == tuple(registry.PACKAGES)
    assert set(registry.all_kinds()) == {*registry.PACKAGES, "haze", *FOUR}
    assert "haze" not in sys.modules


def test_a_log_says_whose_its_blocks_are(site: Path) -> None:
    (site / "haze" / "__init__.py").write_text("API = 1\nSCHEMA = 3\n")
    assert registry.provenance(["haze", "contrast", "haze"]) == {
        "contrast": {"package": "benchd", "version": "0.1.0", "schema": 1},
        "haze": {"package": "haze-pack", "version": "1.2", "schema": 3},
    }
    registry.check_readable("haze", {"package": "haze-pack", "version": "1.1", "schema": 2})
    registry.check_readable("contrast", None)


@pytest.mark.parametrize(
    ("kind", "said", "error", "text"),
    [
        (
            *("depth", None, KindUnknown),
            "this benchd knows no measurement 'depth'; a newer benchd took the log, or one with a package that is not "
            "installed here",
        ),
        (
            *("depth", {"package": "depth-pack", "version": "2.0", "schema": 1}, PackageMissing),
            "measurement 'depth' is of depth-pack 2.0, which is not installed here; install it",
        ),
        (
            *("depth", {"package": "benchd", "version": "9.9.9", "schema": 1}, PackageNewer),
            "measurement 'depth' came with benchd 9.9.9, and this is benchd 0.1.0; update benchd",
        ),
        (
            *("contrast", {"package": "benchd", "version": "9.9.9", "schema": 4}, PackageNewer),
            "benchd 9.9.9 wrote number 4 of the blocks of measurement 'contrast', and benchd 0.1.0 reads up to number "
            "1; update benchd",
        ),
        (*("torn", None, PackageBroken), ""),
    ],
)
def test_what_a_log_holds_and_can_not_be_read_has_its_reason(
    site: Path, kind: str, said: dict[str, object] | None, error: type[PackageError], text: str
) -> None:
    if kind == "torn":
        (site / "torn" / "__init__.py").write_text("API = 1\nraise OSError('no licence')\n")
        text = "measurement 'torn' of torn-pack 1.2 can't be used: OSError: no licence"
    with pytest.raises(PackageError) as raised:
        registry.check_readable(kind, said)
    assert (type(raised.value), str(raised.value)) == (error, text)


def test_schemas_leave_out_what_can_not_be_used(site: Path) -> None:
    assert set(registry.all_kinds()) - set(registry.usable_kinds()) == {*FOUR}
    results_schema()
    block = json.loads(schemas()["plan.schema.json"])["$defs"]["Block"]
    assert set(block["properties"]) == {*registry.PACKAGES, "haze", *FOUR}


def test_the_doctor_lists_them(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["doctor", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["measurements"]
    built_in = [one["name"] for one in found if one["state"] == "built in"]
    assert tuple(built_in) == registry.kinds()[: len(built_in)] == tuple(registry.PACKAGES)
    added = {(one["name"], one["package"], one["version"]): one["state"] for one in found if one["state"] != "built in"}
    assert added == {
        ("contrast", "haze-pack", "1.2"): "claimed twice",
        ("gone", "gone-pack", "1.2"): "missing",
        ("haze", "haze-pack", "1.2"): "imported",
        ("hollow", "torn-pack", "1.2"): "broken",
        ("late", "late-pack", "7.0"): "newer",
        ("numberless", "torn-pack", "1.2"): "broken",
        ("torn", "torn-pack", "1.2"): "broken",
        ("twin", "first-pack", "1.2"): "claimed twice",
        ("twin", "second-pack", "1.2"): "claimed twice",
    }
    assert main(["doctor"]) == 0
    text = capsys.readouterr().out
    assert "measures   12 kinds built in; 9 from packages" in text
    assert f"late of late-pack 7.0, newer: {FOUR['late'][1]}" in text
