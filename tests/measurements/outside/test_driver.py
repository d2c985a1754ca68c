"""A driver of another package: named in a bench, with options of its own, it reads the light of a whole run."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchd import installed
from benchd.cli import main
from benchd.plan.schema import files as schemas
from benchd.profile.driver import GROUP
from benchd.profile.profile_store import load_bench
from tests.measurements.dist import INSTRUMENTS, on_path, package, write
from tests.plan.helpers import refusal

HERE = Path(__file__).parent
SIM_OFFICE = Path(__file__).resolve().parents[3] / "profiles" / "benches" / "sim-office.yaml"
REHEARSAL = (
    "{rehearsal: {serial_number: R-1, steps: {black: {xyz: [0.3, 0.3, 0.3]}}, others: [{xyz: [300.0, 300.0, 300.0]}]}}"
)


RAIL = '''
"""A stage that keeps where it was sent."""

from pathlib import Path

from benchd.api.instruments import DriverPart, Field, MoveFailed, ProfileModel


class Options(ProfileModel):
    """A rail for rehearsals."""

    file: str = Field(description="where it keeps its moves")
    reach: float = Field(default=1.0, gt=0, le=1, description="so much of the width")


class Rail:
    by = "mover"

    def __init__(self, options, now_s):
        self._options = options

    def move(self, place, at, deadline):
        if at[0] > self._options.reach:
            raise MoveFailed(f"the rail does not reach {place}")
        with Path(self._options.file).open("a") as file:
            file.write(f"{place}\\n")

    def close(self):
        pass


PART = DriverPart("stage", Options, Rail)
'''


@pytest.fixture(autouse=True)
def site(tmp_path: Path) -> Iterator[Path]:
    """The package of the driver, installed, and two that are at fault."""
    folder = tmp_path / "site"
    write(folder, "rehearsal-meter", {INSTRUMENTS: {"rehearsal": "rehearsal_meter"}}, "0.4")
    shutil.copytree(HERE / "rehearsal_meter", folder / "rehearsal_meter")
    write(folder, "rail-stage", {INSTRUMENTS: {"rail": "rail_stage"}})
    package(folder, "rail_stage", driver=RAIL)
    write(folder, "late-meter", {INSTRUMENTS: {"late": "late_meter"}})
    package(folder, "late_meter", init="API = 9\n")
    with on_path(folder):
        yield folder


def bench(meter: str) -> str:
    """The shipped simulated bench with another meter."""
    lines = SIM_OFFICE.read_text().splitlines()
    lines = [f"  meter: {meter}" if line.startswith("  meter:") else line for line in lines]
    return "\n".join(line for line in lines if not line.startswith("expected:")) + "\n"


def test_a_bench_without_a_driver_reads_no_metadata() -> None:
    load_bench(SIM_OFFICE.read_text(), "bench.yaml")
    assert not installed.claims_so_far(GROUP)


WRONG = {
    "{rehearsal: {serial_number: 7}}": (
        'serial_number: needs text, not 7; put it in quotation marks: "7" (its serial number)'
    ),
    "{rehearsal: {serial_number: R-1, step: {}}}": (
        "unknown key 'step'; did you mean 'steps'? (answers by the end of a step's name)"
    ),
    "{rehearsal: {serial_number: R-1, others: [{xyz: [1.0, 2.0]}]}}": "key '2' is missing",
    "{reharsal: {}}": "unknown key 'reharsal'; did you mean 'rehearsal'? (a meter for rehearsals)",
    "{late: {}}": (
        "driver 'late' of late-meter 1.2 is written for number 9 of benchd.api, and benchd 0.1.0 has number 1; install "
        "a version of benchd that fits"
    ),
    "rehearsal": "driver: needs a mapping; write rehearsal: {}",
    "{}": "name a driver, one of: late, rail, rehearsal",
    f"{REHEARSAL}, port: auto": "'port' is for a serial meter; with a driver, remove it",
    "{rehearsal: {serial_number: R-1}, rehearsal-2: {}}": "a role has one driver; take one of them away",
}


@pytest.mark.parametrize("driver", WRONG)
def test_its_options_are_checked_by_its_own_model_with_places(driver: str) -> None:
    text = f"driver: {driver}"
    fault = refusal(load_bench, bench(f"{{{text}}}"), "bench.yaml").faults[0]
    assert fault.line == 15
    assert fault.text.startswith(WRONG[driver])


def test_the_schema_of_a_bench_has_its_options() -> None:
    schema = json.loads(schemas()["bench.schema.json"])
    keys = {key: one for part in schema["$defs"].values() for key, one in part.get("properties", {}).items()}
    assert keys["others"]["description"] == "answers to all other steps, in turn"
    assert keys["file"]["description"] == "where it keeps its moves"
    for role in ("Driver", "StageDriver"):
        assert set(schema["$defs"][role]["properties"]) == {"late", "rail", "rehearsal"}


def test_a_run_is_read_by_it_and_the_log_says_whose_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "rehearsal.yaml").write_text(bench(f"{{driver: {REHEARSAL}}}"))
    (tmp_path / "plan.yaml").write_text("plan: plan\nwarm_up: none\nblocks:\n  - contrast: {}\n")
    log = tmp_path / "a.log"
    words = ["run", str(tmp_path / "plan.yaml"), "--bench", str(tmp_path / "rehearsal.yaml"), "--log", str(log)]
    assert main([*words, "--sample", "wren-27/1"]) == 0, capsys.readouterr().err
    head = json.loads(log.read_text().partition("\n")[0])
    capsys.readouterr()
    assert main(["results", str(log)]) == 0
    text = capsys.readouterr().out
    assert "SIMULATED" in text
    assert "REHEARSAL" in text
    assert "1000" in text
    assert head["body"]["driver"] == {"name": "rehearsal", "package": "rehearsal-meter", "version": "0.4"}


def staged(stage: str) -> str:
    """The bench with the rehearsal meter, and another stage."""
    lines = bench(f"{{driver: {REHEARSAL}}}").splitlines()
    return "\n".join(f"  stage: {stage}" if line.startswith("  stage:") else line for line in lines) + "\n"


@pytest.mark.parametrize(("reach", "code"), [(1.0, 0), (0.6, 3)])
def test_a_stage_of_a_package_moves_the_meter(
    reach: float, code: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    moves, log = tmp_path / "moves.txt", tmp_path / "a.log"
    driver = f"{{driver: {{rail: {{file: {json.dumps(str(moves))}, reach: {reach}}}}}}}"
    (tmp_path / "staged.yaml").write_text(staged(driver))
    (tmp_path / "plan.yaml").write_text("plan: plan\nwarm_up: none\nblocks:\n  - uniformity: {grid: 2x1}\n")
    words = ["run", str(tmp_path / "plan.yaml"), "--bench", str(tmp_path / "staged.yaml"), "--log", str(log)]
    assert main([*words, "--sample", "wren-27/1"]) == code, capsys.readouterr().err
    said = capsys.readouterr().err
    assert "operator" not in said
    assert ("the rail does not reach r1c2" in said) == (code == 3)
    assert moves.read_text().splitlines()[0] == "r1c1"
    head = json.loads(log.read_text().partition("\n")[0])
    assert head["body"]["stage_driver"] == {"name": "rail", "package": "rail-stage", "version": "1.2"}


@pytest.mark.parametrize(
    ("stage", "fault"),
    [
        ("{driver: {rehearsal: {}}}", "driver 'rehearsal' is of a meter, no stage"),
        ("{driver: {rail: {}}}", "key 'file' is missing"),
        ("{driver: {rail: {file: a}}, port: COM3}", "'port' is for a motion stage with a dialect"),
        ("{driver: {rail: {file: a}}, command: [a]}", "give a command or a driver, not both"),
    ],
)
def test_what_is_wrong_with_a_stage_is_reported(stage: str, fault: str) -> None:
    assert fault in str(refusal(load_bench, staged(stage), "bench.yaml"))


def test_the_doctor_lists_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["doctor", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["drivers"]
    assert [(one["name"], one["package"], one["version"], one["state"]) for one in found] == [
        ("late", "late-meter", "1.2", "newer"),
        ("rail", "rail-stage", "1.2", "imported"),
        ("rehearsal", "rehearsal-meter", "0.4", "imported"),
    ]
