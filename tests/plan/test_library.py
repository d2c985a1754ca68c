"""Finding profiles, and the profiles that are shipped."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema  # type: ignore[import-untyped]
import pytest
import yaml

from benchd.errors import InputError, nearby
from benchd.plan import plan_store, schema
from benchd.plan.estimate import estimate
from benchd.plan.plan import Plan
from benchd.plan.step import Step
from benchd.plan.steps import describe, expand
from benchd.profile import profile_store as library
from benchd.profile.profile_store import ProfileStore
from benchd.profile.reading.strict_yaml import load_model
from benchd.profile.target_file import Space
from benchd.run.job import plan_job, plan_job_from
from tests.plan.helpers import refusal

SHELVES: dict[ProfileStore, str] = {
    "plans": "plan",
    "benches": "bench",
    "meters": "dialect",
    "targets": "target",
    "stages": "stage",
    "spaces": "space",
    "corrections": "correction",
}
SHIPPED = [(shelf, name) for shelf in SHELVES for name in library.names(shelf, user_folder=Path("/nonexistent"))]


@cache
def fits(kind: str) -> jsonschema.Draft202012Validator:
    """Of profiles of a kind; that its schema is one is tested below."""
    return jsonschema.Draft202012Validator(schema.schema_of(schema.MODELS[kind]))


def shipped(name: str) -> tuple[Plan, tuple[Step, ...]]:
    """A shipped plan and its steps."""
    path = library.find("plans", name)
    plan = plan_store.load_plan(library.read_text(path), str(path), library.beside(path))
    return plan, expand(plan, plan_store.plan_files(plan, library.beside(path)))


def test_a_path_wins_then_the_users_folder_then_the_shipped_one(tmp_path: Path) -> None:
    own = tmp_path / "profiles" / "plans"
    own.mkdir(parents=True)
    (own / "quick.yaml").write_text("plan: quick\n")
    (own / "mine.yaml").write_text("plan: mine\n")

    def find(name: str) -> Path:
        return library.find("plans", name, user_folder=tmp_path / "profiles")

    assert find("quick") == own / "quick.yaml"
    assert find("mine") == own / "mine.yaml"
    assert find(str(own / "mine.yaml")) == own / "mine.yaml"
    assert find("night") == library.profiles_folder() / "plans" / "night.yaml"
    assert {"mine", "quick", "night"} <= set(library.names("plans", user_folder=tmp_path / "profiles"))


def test_an_unknown_name_is_answered_with_the_nearest() -> None:
    with pytest.raises(InputError, match=r"^there is no plan 'sdr-standrd'; did you mean sdr-standard( or .*)?\?$"):
        library.find("plans", "sdr-standrd")
    with pytest.raises(InputError, match=r"^there is no target 'q'; known are: bt1886, gsdf, power-2\.2"):
        library.find("targets", "q")
    with pytest.raises(
        InputError, match=r"^there is no file 'a/b\.yaml'; give the path of a bench, or one of the names: "
    ):
        library.find("benches", "a/b.yaml")
    with pytest.raises(InputError, match=r"^/proc is a folder; give the path of a plan file in it, or one of the"):
        library.find("plans", "/proc")
    with pytest.raises(InputError, match=r"there is no file '\.\./plans/quick'"):
        library.find("benches", "../plans/quick")


def test_only_near_names_of_the_kind_that_is_wanted_are_offered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("evening.yaml", "evening.log", "evenink.csv", "x.log"):
        (tmp_path / name).touch()
    for name in ("wt", "dl", "evening", "eveninf.yaml"):
        (tmp_path / name).mkdir()
    (tmp_path / "inside").mkdir()
    monkeypatch.chdir(tmp_path / "inside")
    for typed in ("../evenin", "../evenin.yaml", "../Evening", str(tmp_path / "evenings")):
        with pytest.raises(InputError) as caught:
            library.find("plans", typed)
        offered = f"{typed.rpartition('/')[0]}/evening.yaml"
        assert str(caught.value) == f"there is no file '{typed}'; did you mean {offered}?"
    for typed in ("../x", "../dll", "../venv.yaml"):
        with pytest.raises(InputError, match="give the path of a plan, or one of the names"):
            library.find("plans", typed)
    assert nearby(Path("../evenin"), "otherwise", suffix=".log") == "did you mean ../evening.log?"
    assert nearby(Path("../evenin"), "otherwise", suffix=".txt") == "otherwise"


def test_unreadable_files_are_told_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "latin.yaml").write_bytes("about: é".encode("latin-1"))
    with pytest.raises(InputError, match=r"latin\.yaml can't be read: byte 8 does not belong in UTF-8 text"):
        library.read_text(tmp_path / "latin.yaml")
    with pytest.raises(InputError, match=r"can't be read: is a directory$"):
        library.read_text(tmp_path)


def test_the_profiles_that_the_project_promises() -> None:
    assert {"quick", "sdr-standard", "uniformity-grid", "night"} <= set(library.names("plans"))
    assert {"srgb", "power-2.2", "power-2.4", "bt1886", "gsdf"} <= set(library.names("targets"))
    assert len(library.names("meters")) >= 2
    assert library.names("benches")


@pytest.mark.parametrize(("shelf", "name"), SHIPPED)
def test_every_shipped_profile_loads_and_fits_its_schema(shelf: ProfileStore, name: str) -> None:
    path = library.find(shelf, name)
    text = library.read_text(path)
    if shelf == "plans":
        assert plan_store.load_plan(text, str(path), library.beside(path)).plan == name
    elif shelf == "benches":
        assert library.load_bench(text, str(path)).bench == name
    elif shelf == "targets":
        target = library.load_target(text, str(path))
        assert target.normalised()["name"] == name
        assert target.source
    elif shelf == "stages":
        assert library.load_stage(text, str(path)).stage == name
    elif shelf == "corrections":
        assert library.load_correction(text, str(path)).correction == name
    elif shelf == "spaces":
        assert load_model(Space, text, str(path)).space == name
    else:
        assert library.load_dialect(text, str(path)).meter == name
    fits(SHELVES[shelf]).validate(yaml.safe_load(text))


def test_every_shipped_profile_tells_an_editor_its_schema() -> None:
    for shelf in ("plans", "targets", "benches", "meters"):
        for path in (library.profiles_folder() / shelf).glob("*.yaml"):
            first = path.read_text().partition("\n")[0]
            assert first == f"# yaml-language-server: $schema=../schema/{SHELVES[shelf]}.schema.json"


def test_an_unknown_target_is_a_fault_of_the_plan_told_with_the_others() -> None:
    text = "plan: p\ntarget: srbg\nsetle_s: 1\nblocks: [{luminance: {}}]\n"
    refused = refusal(plan_store.load_plan, text, "p.yaml", str, library.find_target)
    unknown_target, unknown_key = map(str, refused.faults)
    assert unknown_target == "p.yaml:2:9: there is no target 'srbg'; did you mean srgb?"
    assert unknown_key.startswith("p.yaml:3:1: unknown key 'setle_s'")


def test_quick_takes_less_than_a_minute_on_every_shipped_bench() -> None:
    plan, steps = shipped("quick")
    for name in library.names("benches"):
        path = library.find("benches", name)
        bench = library.load_bench(library.read_text(path), str(path))
        assert estimate(steps, bench.timing, plan, manual_moves=bench.manual_moves).maximum_s < 60


def test_sdr_standard_has_all_four_results() -> None:
    plan, steps = shipped("sdr-standard")
    assert [block.kind for block in plan.blocks] == ["luminance", "grayscale", "contrast", "uniformity"]
    assert len(steps) == 1 + 2 + (2 + 32) + 21 + 25 * 2


def test_night_lasts_a_night_on_the_simulated_bench() -> None:
    plan, steps = shipped("night")
    path = library.find("benches", "sim-office")
    bench = library.load_bench(library.read_text(path), str(path))
    found = estimate(steps, bench.timing, plan, manual_moves=bench.manual_moves)
    assert 7 * 3600 < found.minimum_s < 8 * 3600 < found.maximum_s < 9 * 3600
    lattice = {step.patch.code for step in steps if step.block == "patches"}
    grid = [17 * n for n in range(16)]
    assert lattice == {(red, green, blue) for red in grid for green in grid for blue in grid}
    files = plan_store.plan_files(plan, library.beside(library.find("plans", "night")))
    assert len(describe(plan, files)[4]["names"]) == 4096


def test_targets_have_the_figures_of_their_sources() -> None:
    def normalised(name: str) -> dict[str, Any]:
        path = library.find("targets", name)
        return library.load_target(library.read_text(path), str(path)).normalised()

    # IEC 61966-2-1 and ITU-R BT.709: the same primaries and D65.
    for name in ("srgb", "power-2.2", "power-2.4", "bt1886"):
        assert normalised(name)["white"] == [0.3127, 0.3290]
        assert normalised(name)["primaries"] == {"red": [0.64, 0.33], "green": [0.30, 0.60], "blue": [0.15, 0.06]}
    assert normalised("srgb")["curve"] == {"kind": "srgb"}
    assert normalised("power-2.4")["curve"] == {"kind": "power", "exponent": 2.4}
    assert normalised("gsdf")["curve"] == {"kind": "gsdf"}
    assert set(normalised("gsdf")) == {"name", "about", "white", "primaries", "curve", "luminance_cd_m2"}
    assert normalised("gsdf")["luminance_cd_m2"] is None


def test_every_kind_of_profile_has_a_schema() -> None:
    kinds = {*SHELVES.values(), "claims"}  # a claims file is the operator's own, beside what it belongs to
    assert set(schema.files()) == {f"{kind}.schema.json" for kind in kinds}


def test_the_schemas_are_schemas_and_every_key_has_a_meaning() -> None:
    for text in schema.files().values():
        found = json.loads(text)
        jsonschema.Draft202012Validator.check_schema(found)
        for definition in [found, *found.get("$defs", {}).values()]:
            assert definition["description"]
            assert definition["additionalProperties"] is False
            for key, meaning in definition["properties"].items():
                assert meaning.get("description"), key


@pytest.mark.parametrize(
    ("kind", "broken"),
    [
        ("plan", "plan: p\nblocks:\n  - luminance: {}\nsetle_s: 1\n"),
        ("plan", "plan: p\nblocks: []\n"),
        ("plan", "plan: p\nblocks: [{luminance: {}, contrast: {}}]\n"),
        ("plan", "plan: p\nblocks: [{grayscale: {steps: 1}}]\n"),
        ("plan", "plan: p\nblocks: [{uniformity: {grid: 5x0}}]\n"),
        ("plan", "plan: p\nblocks: [{patches: {list: [{name: a, code: [1, 2]}]}}]\n"),
        ("plan", "plan: p\nblocks: [{luminance: {}}]\nwarm_up: long\n"),
        ("plan", "plan: p\nblocks: [{luminance: {}}]\nsettle_s: null\n"),
        ("bench", "bench: b\nscreen: {}\n"),
        ("bench", "bench: b\nscreen: {}\ninstruments: {meter: {}}\npanel: crt\n"),
        ("target", "target: t\n"),
        ("dialect", "meter: m\nport: {parity: sometimes}\n"),
    ],
)
def test_a_broken_profile_does_not_fit_its_schema(kind: str, broken: str) -> None:
    with pytest.raises(jsonschema.ValidationError):
        fits(kind).validate(yaml.safe_load(broken))


@pytest.mark.parametrize("name", [name for shelf, name in SHIPPED if shelf == "benches"])
def test_a_copy_of_a_simulated_bench_is_known_as_one_without_its_key(name: str) -> None:
    text = (library.profiles_folder() / "benches" / f"{name}.yaml").read_text(encoding="utf-8")
    copied = library.load_bench(re.sub(r"(?m)^simulated: true$", "", text), f"{name}.yaml")
    assert not copied.simulated
    assert copied.is_simulated == name.startswith("sim-")


def test_a_plan_has_the_name_that_it_gives_itself(tmp_path: Path) -> None:
    """Its file may be called otherwise; errors are placed there."""
    file, text = tmp_path / "prompt.yaml", "plan: hand\nblocks:\n  - luminance: {}\n"
    file.write_text(text, encoding="utf-8")
    for job, place in ((plan_job(str(file)), str(file)), (plan_job_from("prompt.yaml", text, {}), "prompt.yaml")):
        assert (job.document.name, job.document.file) == ("hand", place)
