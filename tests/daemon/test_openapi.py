"""The description is true: current, valid, complete; and schemathesis finds no answer that it does not allow."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from benchd.daemon.http import openapi
from benchd.daemon.http.routes import ROUTES
from benchd.daemon.http.wire_json import encode
from benchd.daemon.job_control import JobControl
from tests.daemon.conftest import House
from tests.daemon.fake_desk import FakeDesk, fill

ROOT = Path(__file__).resolve().parents[2]
SEED = "20260302"


def test_it_is_served(house: House) -> None:
    assert house.ask("GET", "/v1/openapi.json").json == openapi.document(ROUTES)


def test_it_names_every_address_and_every_part_of_the_desk() -> None:
    paths = openapi.document(ROUTES)["paths"]
    told = {f"{method.upper()} {path}" for path, operations in paths.items() for method in operations}
    assert told == {
        "GET /v1/status", "POST /v1/jobs", "GET /v1/jobs", "GET /v1/jobs/{id}", "POST /v1/jobs/{id}/pause",
        "POST /v1/jobs/{id}/resume", "POST /v1/jobs/{id}/cancel", "POST /v1/next", "POST /v1/again", "POST /v1/skip",
        "POST /v1/stop", "GET /v1/events", "GET /v1/openapi.json",
    }  # fmt: skip
    names = {route.name for route in ROUTES}
    acts = {name for name in vars(JobControl) if not name.startswith("_")} - {
        "snapshot",
        "wait_for_change",
        "next_move",
    }
    assert acts <= names


def test_its_schemas_are_json_schemas() -> None:
    """Against the meta-schema of JSON Schema 2020-12, which OpenAPI 3.1 takes for its schemas."""
    document = openapi.document(ROUTES)
    assert document["openapi"].startswith("3.1.")
    for name, schema in document["components"]["schemas"].items():
        jsonschema.Draft202012Validator.check_schema(schema)
        assert schema["description"], name


def test_what_is_described_of_a_submission_is_what_is_taken() -> None:
    described = {"$ref": "#/components/schemas/Submission", "components": openapi.document(ROUTES)["components"]}
    fits = jsonschema.Draft202012Validator(described).is_valid
    assert fits({"plan_name": "a", "plan_text": "b", "files": {"a/b.csv": "x"}})
    for wrong in (
        {"files": {"../x": "y"}},
        {"files": {"": "y"}},
        {"files": {"a": 1}},
        {"other": 1},
        {"priority": 1001},
    ):
        assert not fits({"plan_name": "a", "plan_text": "b"} | wrong), wrong


@pytest.mark.parametrize("filled", [False, True])
def test_a_snapshot_is_as_described(filled: bool) -> None:
    desk = FakeDesk()
    if filled:
        fill(desk)
    document = openapi.document(ROUTES)
    wanted = {"$ref": "#/components/schemas/Snapshot", "components": document["components"]}
    snapshot = json.loads(encode(desk.snapshot(), brief=True))
    jsonschema.Draft202012Validator(wanted).validate(snapshot)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(wanted).validate(snapshot | {"doing": "dancing"})
    whole = {"$ref": "#/components/schemas/Job", "components": document["components"]}
    for job in desk.snapshot().queue:
        jsonschema.Draft202012Validator(whole).validate(json.loads(encode(job)))


def fuzz(house: House, folder: Path, examples: int, *more: str) -> subprocess.CompletedProcess[str]:
    """schemathesis (a general fuzzer of described interfaces) with every check that it has; bounded and seeded."""
    command = [
        str(Path(sys.executable).parent / "schemathesis"), "run", f"{house.servers.http_url}v1/openapi.json",
        "--header", f"Authorization: Bearer {house.token}", "--seed", SEED, "--max-examples", str(examples),
        "--exclude-path", "/v1/events", "--generation-database", "none", "--no-color", "--request-timeout", "60",
        *more,
    ]  # fmt: skip
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, timeout=600)


def test_schemathesis_finds_nothing(house: House, tmp_path: Path) -> None:
    """What fits the description is taken, what does not is refused, and every answer is a described one."""
    fill(house.desk)
    done = fuzz(house, tmp_path, 25)
    assert done.returncode == 0, done.stdout[-4000:]
    [selected] = [line for line in done.stdout.splitlines() if "Tested:" in line]
    assert selected.split()[-1] == "11", "all but the stream, which never ends, and the description itself"
    assert house.desk.jobs > 20, "some of what it made up was right"


def test_schemathesis_would_find_a_fault(house: House, tmp_path: Path) -> None:
    fill(house.desk)
    house.desk.breaks = "planted"
    done = fuzz(house, tmp_path, 3, "--phases", "coverage", "--include-path", "/v1/jobs")
    assert done.returncode == 1
    assert "Server error" in done.stdout
