"""The shipped benches: valid, marked as invented, and what they start is what they say."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchd.profile.bench import Bench
from benchd.profile.reading.strict_yaml import load_model
from sim.bench import arguments_of
from sim.displays import MODELS, model_of
from sim.displays_hdr import HDR_MODELS
from tests.sim.companion import ROOT

BENCHES = sorted((ROOT / "profiles" / "benches").glob("*.yaml"))
SIMULATED = [path for path in BENCHES if path.name.startswith("sim-")]


def bench(path: Path) -> Bench:
    return load_model(Bench, path.read_text(encoding="utf-8"), str(path))


@pytest.mark.parametrize("path", BENCHES, ids=lambda path: path.stem)
def test_it_loads_and_is_named_as_its_file(path: Path) -> None:
    assert bench(path).bench == path.stem


@pytest.mark.parametrize("path", SIMULATED, ids=lambda path: path.stem)
def test_it_says_that_it_is_simulated_and_invented(path: Path) -> None:
    found = bench(path)
    assert found.simulated
    assert "nvented" in found.about
    assert any("INVENTED and SIMULATED" in line for line in path.read_text(encoding="utf-8").splitlines()[:2])
    assert found.instruments.meter.serial_number in ("SIM-0007", "SIM-0021")


@pytest.mark.parametrize("path", SIMULATED, ids=lambda path: path.stem)
def test_its_companion_understands_its_command(path: Path) -> None:
    found = bench(path)
    (companion,) = found.companions
    assert companion.command[:3] == ("python", "-m", "sim.bench")
    wanted = arguments_of(list(companion.command[3:]))
    assert wanted.dialect == found.instruments.meter.dialect
    model = model_of(wanted.display)
    assert model.panel == found.panel
    assert ("--signal" in (found.screen.command or ())) == (model.hdr is not None)
    # Told time and told patches belong together; a real window belongs to real time.
    assert (wanted.time == "virtual") == (found.time is not None) == (found.screen.command is not None)
    assert wanted.look == (found.screen.monitor is not None)


def test_every_display_has_a_bench() -> None:
    shown = {word for path in SIMULATED for word in bench(path).companions[0].command}
    assert {*MODELS, *HDR_MODELS} <= shown


def test_the_template_for_real_parts_is_not_simulated() -> None:
    assert not bench(ROOT / "profiles" / "benches" / "my-bench.yaml").simulated
