"""What an operator may not have done is said in text, data, page and history. The log is invented."""

from __future__ import annotations

from typing import Any

import jsonschema
import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.log.history import history
from benchd.report.data.document import to_json
from benchd.report.data.log_reference import LogReference
from benchd.report.data.results_schema import results_schema
from benchd.report.page.results_page import Logged, report_page
from benchd.report.terminal.results_text import render_text
from tests.analysis.logs import Log, xyz

NOTE = "white did not change (350 -> 350 cd/m2) though brightness went from 100 to 50"
LOG = LogReference("a.log", "0" * 64)


def log(answer: str) -> Log:
    names = ["brightness=100/luminance", "brightness=50/luminance"]
    blocks: list[dict[str, Any]] = [
        {"name": name, "kind": "luminance", "base": "luminance", "settings": {"brightness": value}}
        for name, value in zip(names, (100, 50), strict=True)
    ]
    made = Log(blocks)
    for name, value in zip(names, (100, 50), strict=True):
        made.set(f"{name}/white", "brightness", value, by="operator")
        made.measure(f"{name}/white", {"name": "white"}, [xyz(350.0), xyz(350.1), xyz(349.9)])
    body = {"about": "setting", "note": NOTE, "control": "brightness", "steps": [f"{names[1]}/white"]}
    made.add("confirmation", {**body, "answer": answer}, f"{names[1]}/white", 0)
    made.measure(f"{names[1]}/black", {"name": "black"}, [xyz(0.3)] * 3, code=0)
    return made


def test_without_an_answer_every_view_has_the_doubt() -> None:
    made = log("none")
    results = analyse(made.end())
    said = f"{NOTE}, and nobody answered whether it was set"
    steps = ["brightness=50/luminance/white", "brightness=50/luminance/black"]
    document = to_json(results, LOG)
    assert document["doubts"] == [{"about": "setting", "text": said, "steps": steps}]
    jsonschema.validate(document, results_schema())
    text = " ".join(render_text(results, log=LOG, width=160).split())
    assert f"in doubt: {said}: 2 steps, from brightness=50/luminance/white" in text
    events = history(made.records)
    assert [one.text for one in events if one.kind == "confirmation"] == [f"{NOTE}: not confirmed"]
    page = report_page([Logged(results, LOG, events)])
    assert "In doubt: white did not change" in page


def test_a_confirmation_by_a_key_leaves_it() -> None:
    """The same key answers every prompt, and the light has not changed."""
    (doubt,) = analyse(log("yes").end()).doubts
    assert doubt.text == f"{NOTE}, and the operator confirmed that it was set"


@pytest.mark.parametrize("answer", ["changed", "again"])
def test_with_one_there_is_none(answer: str) -> None:
    results = analyse(log(answer).end())
    assert to_json(results, LOG)["doubts"] == []
    assert "in doubt" not in render_text(results, log=LOG)
