"""``benchd new``: a file that loads as it is, whose every option works, and which explains every key."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchd.measurements import registry
from benchd.plan.blocks import ReadingSettings
from benchd.plan.plan import Plan
from benchd.plan.plan_store import load_plan
from benchd.profile.bench import Bench
from benchd.profile.claim_sheet import ClaimLine, ClaimSheet
from benchd.profile.profile_store import find_target, load_bench, load_claims
from benchd.profile.reading.explain import allowed
from benchd.profile.stated_meter import MeterUncertainty
from tests.command.conftest import Benchd

HDR = {"peak", "sustained", "tone_curve", "halo", "colour_levels"}
_OPTION = re.compile(r"( *)#( *)(- |[a-z_]+:)")


def no_file(name: str) -> str:
    raise LookupError(name)


def load(kind: str, text: str) -> object:
    if kind == "plan":
        return load_plan(text, "new.yaml", no_file, find_target)
    return {"bench": load_bench, "claims": load_claims}[kind](text, "new.yaml")


@pytest.fixture(scope="module", params=["plan", "bench", "claims"])
def starter(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """Kind and text of a file that was written."""
    from benchd.cli import main

    kind, path = request.param, tmp_path_factory.mktemp("new") / "evening.yaml"
    assert main(["new", kind, "evening", "--output", str(path)]) == 0
    return kind, path.read_text()


def options(text: str) -> Iterator[list[int]]:
    """The lines of each option: one that begins with # and a key or an item, and those indented below it."""
    lines = text.splitlines()
    for number, line in enumerate(lines):
        begun = _OPTION.match(line)
        if begun and not begun[2]:
            below = number + 1
            while below < len(lines) and re.match(begun[1] + r"#  +[-a-z]", lines[below]):
                below += 1
            yield list(range(number, below))


def test_it_loads_as_it_is_and_with_each_option(starter: tuple[str, str]) -> None:
    kind, text = starter
    load(kind, text)
    lines = text.splitlines()
    found = list(options(text))
    assert len(found) >= 5
    for option in found:
        if "#signal:" in lines[option[0]] or "# HDR" in lines[option[0]]:
            continue  # they go together: see below
        with_it = [re.sub("#", "", line, count=1) if at in option else line for at, line in enumerate(lines)]
        keys = [re.match(r"([a-z_]+):", with_it[at]) for at in option[:1]]
        key = keys[0][1] if keys[0] else ""
        # A key that stands there with another value is replaced; so are those that a comment says to delete.
        gone = {key} | ({"readings", "dark_readings", "settle_s", "dark_settle_s"} if key == "repeatability" else set())
        ours = [
            line
            for at, line in enumerate(with_it)
            if at in option or not any(one and line.startswith(f"{one}:") for one in gone)
        ]
        load(kind, "\n".join(ours) + "\n")


def test_every_key_of_a_plan_is_explained_with_its_range(starter: tuple[str, str]) -> None:
    kind, text = starter
    if kind == "plan":
        # Points that are left out and what is subtracted are explained where sweeps and stray light are.
        keys = set(Plan.model_fields) - {"own_bits", "skip", "only", "subtract"}
        models = [Plan, ReadingSettings]
        assert all(re.search(rf"(?m)^ *#?- {one}: ", text) for one in registry.kinds())
    elif kind == "claims":
        keys, models = set(ClaimSheet.model_fields), []
        for key, field in ClaimLine.model_fields.items():
            assert re.search(rf"(?m)^  *(- |#?(- )?){key}: ", text), key
            assert allowed(field) in text
        assert allowed(ClaimSheet.model_fields["typical_allowance_percent"]) in text
    else:
        keys = set(Bench.model_fields) - {"simulated", "companions", "time", "expected"}
        models = [Bench, MeterUncertainty]
    for key in keys | {"plan": {"bits"}, "bench": {"k"}}.get(kind, set()):
        assert re.search(rf"(?m)^ *#? *{key}:", text), key
    for model in models:
        for name, field in model.model_fields.items():
            line = re.search(rf"(?m)^ *#? *{name}: .*#(.*)$", text)
            limits = re.fullmatch(r"(\S+) to (\S+)", allowed(field))
            if line and limits:
                assert f"{limits[1]} to {limits[2]}" in line[1], name


def test_lines_fit_a_terminal(starter: tuple[str, str]) -> None:
    wide = [line for line in starter[1].splitlines()[1:] if len(line) > 88 and not re.match(r" *#? *[a-z]+: ", line)]
    assert not wide


def test_who_has_an_hdr_display_uncomments_the_lines_of_hdr(benchd: Benchd, tmp_path: Path) -> None:
    text = benchd("new", "plan", "bright", "-o", "-").stdout
    for transfer, bench in (("pq", "sim-hdr-lcd"), ("hlg", "sim-hdr-lcd-hlg")):
        lines = [line for line in text.splitlines() if not line.startswith("  - grayscale:")]
        hdr = [re.sub("#", "", line, count=1) if re.match("#signal:|  #- .*# HDR", line) else line for line in lines]
        assert sum(one != line for one, line in zip(hdr, lines, strict=True)) == 1 + len(HDR)
        (tmp_path / "bright.yaml").write_text("\n".join(hdr).replace("transfer: pq", f"transfer: {transfer}"))
        said = benchd("plan", "bright.yaml", "--bench", bench).stdout
        assert all(re.search(rf"(?m)^  {kind} ", said) for kind in HDR), said
        assert "SIMULATED" in said


def test_a_new_sheet_judges_a_log(benchd: Benchd) -> None:
    assert benchd("new", "claims", "plover-28").stdout.endswith("\n  benchd claims plover-28 LOG\n")
    benchd("check", "--bench", "sim-office", "--log", "a.log")
    said = benchd("claims", "plover-28", "a.log").stdout
    assert "MET   contrast 1000:1 typical" in said
    assert "white luminance >= 350 cd/m2" in said
    assert "there is a claim sheet 'plover-27' already" in benchd("new", "claims", "plover-27", code=2).stderr


def test_the_next_command_is_printed_and_nothing_is_written_over(benchd: Benchd, tmp_path: Path) -> None:
    said = benchd("new", "plan", "evening").stdout
    assert said.endswith("\n  benchd plan evening\n")
    assert "3 readings" not in said
    path = tmp_path / "profiles/plans/evening.yaml"
    assert path.read_text().partition("\n")[0].endswith("plan.schema.json")
    path.write_text("mine")
    assert "exists already and is left as it is" in benchd("new", "plan", "evening", code=2).stderr
    assert path.read_text() == "mine"
    assert "yours would hide it" in benchd("new", "bench", "sim-office", code=2).stderr
    assert "use letters" in benchd("new", "plan", "two words", code=2).stderr
    assert benchd("new", "bench", "lab", "-o", "here.yaml").stdout.endswith("  benchd doctor --bench here.yaml\n")
    assert benchd("new", "bench", "lab", "-o", "my bench.yaml").stdout.endswith("--bench 'my bench.yaml'\n")
    assert benchd("new", "plan", "late.yaml", "-o", "-").stdout.count("\nplan: late\n") == 1
    assert not (tmp_path / "-").exists()
    (tmp_path / "file").write_text("")
    assert "is no folder" in benchd("new", "plan", "late", "-o", "file/late.yaml", code=2).stderr
