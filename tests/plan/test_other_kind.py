"""A file of another kind than the one wanted is answered with what it is, in one sentence."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from benchd.errors import ProfileError
from benchd.plan.plan_store import load_plan
from benchd.profile import profile_store as store
from benchd.profile.profile_store import beside, profiles_folder
from benchd.profile.reading.other_kind import KINDS
from benchd.run.log.journal import encode
from tests.report import logged

LOADERS: dict[str, Callable[[str, str], object]] = {
    "plans": lambda text, name: load_plan(text, name, beside(Path(name))),
    "benches": store.load_bench,
    "meters": store.load_dialect,
    "stages": store.load_stage,
    "targets": store.load_target,
    "spaces": store.load_space,
    "claims": store.load_claims,
    "corrections": store.load_correction,
}
WORDS = dict(
    zip(
        LOADERS,
        map(KINDS.get, ("plan", "bench", "meter", "stage", "target", "space", "sheet", "correction")),
        strict=True,
    )
)
FILES = {folder: sorted((profiles_folder() / folder).glob("*.yaml")) for folder in LOADERS}


def refused(wanted: str, text: str) -> str:
    with pytest.raises(ProfileError) as caught:
        LOADERS[wanted](text, "file")
    [fault] = caught.value.faults
    return fault.text


@pytest.mark.parametrize("wanted", LOADERS)
@pytest.mark.parametrize("given", LOADERS)
def test_every_shipped_profile_is_told_from_every_other_kind(wanted: str, given: str) -> None:
    if wanted != given:
        for path in FILES[given]:
            said = refused(wanted, store.read_text(path))
            assert said == f"this is {WORDS[given]}, not {WORDS[wanted]}; give the file or the name of {WORDS[wanted]}"


@pytest.mark.parametrize("wanted", LOADERS)
def test_what_is_no_profile_at_all(wanted: str) -> None:
    log = b"".join(map(encode, logged.records("quick"))).decode()
    for text, what in (
        (log, "this is a log, "),
        (f"\ufeff{log}", "this is a log, "),
        ('{\n "schema": "benchd.results/2",\n "simulated": true\n}\n', "this is benchd.results as JSON, "),
        ("<!doctype html>\n<html>\n", "this is a page for a browser, "),
        (store.read_text(profiles_folder().parent / "README.md"), "this is "),
    ):
        assert f"{what}not {WORDS[wanted]}" in refused(wanted, text)


@pytest.mark.parametrize(
    "text",
    [
        "plan evening\nblocks: [luminance: {}]\n",
        "target: srgb\nplan: evening\nblocks: [glos: {}]\n",
        "plan: evening\nbench: lab\nblocks: [luminance: {}]\n",
        "about: nothing else\n",
        "hello\n",
    ],
)
def test_a_slip_in_a_plan_is_named_and_not_taken_for_another_kind(text: str) -> None:
    with pytest.raises(ProfileError) as caught:
        load_plan(text, "file", beside(Path("file")))
    assert "this is" not in str(caught.value)
