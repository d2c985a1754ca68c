"""Dialect files: what they may say, what is refused before a port is opened, and with which sentence."""

from __future__ import annotations

import re
from typing import Any

import pytest

from benchd.profile.dialect import Dialect, compiled, fill
from benchd.profile.exchanges import names_in
from benchd.profile.reading.strict_yaml import load_model
from tests.instruments.scripted import METERS, load
from tests.plan.helpers import refusal

SMALL = r"""
meter: small
identify: {send: "I", expect: '(?P<model>\w+) (?P<serial>\w+)', example: "{model}X {serial}"}
measure:
  send: "M"
  expect: '(?P<Y>[-.0-9]+),(?P<x>[.0-9]+),(?P<y>[.0-9]+)'
  example: "{Y},{x},{y}"
  answers_within_s: {fixed: 1}
unit: cd_m2
"""
SMALL = SMALL.replace(r"\w", r"[^ ]")


def faults(text: str) -> str:
    return str(refusal(load_model, Dialect, text, "small.yaml"))


def changed(old: str, new: str) -> str:
    assert old in SMALL
    return SMALL.replace(old, new)


def test_a_small_dialect_has_defaults() -> None:
    dialect = load_model(Dialect, SMALL, "small.yaml")
    assert (dialect.port.baud, dialect.port.data_bits, dialect.port.parity) == (9600, 8, "none")
    assert dialect.answer_within_s(None) == 1.0
    assert dialect.measure.quantities == ("Y", "x", "y")


CASES = {
    "bad pattern": (
        changed("(?P<y>[.0-9]+)", "(?P<y>[.0-9]+"),
        r"small.yaml:6:11: the pattern can't be read: missing \)",
    ),
    "unknown group": (changed("(?P<x>", "(?P<cx>"), r"nothing is known about a group named cx"),
    "a group too few": (changed("(?P<y>[.0-9]+)", "[.0-9]+"), r"the groups must be X, Y and Z, or Y, x and y"),
    "two sorts": (changed("(?P<y>[.0-9]+)", "(?P<v>[.0-9]+)"), r"the groups must be"),
    "no serial": (changed("(?P<serial>", "("), r"the group serial is missing; a meter is known by"),
    "unit missing": (changed("unit: cd_m2", "scale: 2"), r"unit missing: state 'unit: cd_m2'"),
    "unit unknown": (changed("cd_m2", "nit"), r"unit 'nit': use cd_m2 or foot_lambert"),
    "example not matched": (
        changed('"{Y},{x},{y}"', '"{Y} {x} {y}"'),
        r"small.yaml:7:12: the example, filled in as '100 0\.3127 0\.329', is not matched",
    ),
    "example names nonsense": (changed("{Y},{x}", "{Y},{z}"), r"z can't stand in braces here"),
    "brace": (changed('send: "M"', 'send: "M{"'), r"can't be read.*write \{\{ for a brace"),
    "time without limits": (changed('send: "M"', 'send: "M{integration_ms}"'), r"state which ones are allowed"),
    "limits without time": (
        SMALL + "integration: {low_s: 0.1, high_s: 1, default_s: 0.5}",
        r"of no use: neither 'send' nor 'set_integration'",
    ),
    "limits the wrong way": (
        SMALL + "integration: {low_s: 2, high_s: 1, default_s: 1}",
        r"low_s 2 is more than high_s 1",
    ),
    "choosing both ways": (
        SMALL + "integration: {low_s: 0.1, high_s: 1, default_s: 1, automatic_as: A}",
        r"give either 'automatic_as'",
    ),
    "status unexplained": (
        changed("'(?P<Y>", "'(?P<status>.) (?P<Y>").replace('"{Y}', '"{status} {Y}'),
        r"the answer has the group 'status': state what its tokens mean in 'status:'",
    ),
    "no good status": (SMALL + "status: {L: under}", r"no token means ok"),
    "status misspelt": (SMALL + "status: {G: fine}", r"ok, under, over or unstable"),
    "units without the unit": (SMALL + "units: {F: foot_lambert}", r"no token means cd_m2"),
    "range the wrong way": (SMALL + "range_cd_m2: [10, 1]", r"range a list: write \[lowest, highest\] in cd/m2"),
    "error without words": (SMALL + 'errors: {E1: " "}', r"error 'E1' needs a sentence"),
    "error answer that is none": (
        changed('example: "{Y}', 'example_error: "? {error}"\n  example: "{Y}') + "errors: {E1: broken}",
        r"'\? E1' is in neither",
    ),
    "start example missing": (SMALL + 'start: [{send: "R", expect: "OK"}]', r"give an 'example'"),
    "start example wrong": (
        SMALL + 'start: [{send: "R", expect: "OK", example: "KO"}]',
        r"filled in as 'KO', is not matched",
    ),
    "start knows no time": (
        SMALL + 'start: [{send: "R{integration_s}"}]',
        r"no integration time is known at the start",
    ),
    "start tells a unit": (
        SMALL + 'start: [{send: "U", expect: "U(?P<unit>.)", example: "U{unit}"}]',
        r"give 'unit' and 'units'",
    ),
    "not ASCII": (changed('send: "M"', 'send: "Mµ"'), r"not ASCII"),
    "stop bits": (SMALL + "port: {stop_bits: 3}", r"3 stop bits do not exist; use 1, 1\.5 or 2"),
    "parity": (SMALL + "port: {parity: evn}", r"did you mean 'even'"),
    "misspelt key": (SMALL + "lat_within_s: 2", r"did you mean 'late_within_s'"),
}


@pytest.mark.parametrize(("text", "sentence"), CASES.values(), ids=CASES)
def test_a_dialect_that_can_t_work_is_refused_with_a_place_and_a_sentence(text: str, sentence: str) -> None:
    told = faults(text)
    assert re.search(sentence, told), told
    assert re.match(r"small\.yaml:\d+:\d+: ", told)
    assert "Value error" not in told


def test_all_the_faults_of_a_file_come_in_one_go() -> None:
    text = changed("(?P<x>", "(?P<cx>").replace("unit: cd_m2", "unit: nit\nlate_within_s: -1")
    assert len(faults(text).splitlines()) == 3


@pytest.mark.parametrize("name", ["terse-line", "plain-488"])
def test_the_shipped_dialects_speak_of_their_invention_and_render_every_status(name: str) -> None:
    dialect = load(name)
    assert any("INVENTED" in line for line in (METERS / f"{name}.yaml").read_text().splitlines()[:2])
    for status in ("ok", "under", "over", "unstable"):
        assert dialect.tokens(status)["status"] in dialect.status  # type: ignore[arg-type]
    for code in dialect.error_codes:
        assert dialect.error_of(dialect.render_error(code)) == (code, dialect.errors[code])


def test_the_two_shipped_dialects_differ_in_every_respect() -> None:
    one, other = load("terse-line"), load("plain-488")

    def respects(dialect: Dialect) -> dict[str, Any]:
        port = dialect.port
        return {
            "baud": port.baud,
            "data": port.data_bits,
            "parity": port.parity,
            "stop": port.stop_bits,
            "flow": port.flow_control,
            "dtr": port.dtr,
            "sent": dialect.line.end_sent,
            "answered": dialect.line.end_answered,
            "identify": dialect.identify.send,
            "quantities": dialect.measure.quantities,
            "unit": dialect.unit,
            "tells unit": "unit" in names_in(dialect.measure.example),
            "time in its own command": dialect.measure.set_integration is not None,
            "good": dialect.tokens("ok")["status"],
            "errors with the reading": "error" in compiled(dialect.measure.expect).groupindex,
        }

    assert not {key for key, value in respects(one).items() if respects(other)[key] == value}


def test_questions_are_filled_with_the_integration_time() -> None:
    terse, plain = load("terse-line"), load("plain-488")
    assert fill(terse.measure.send, terse.integration_values(0.5)) == "M500"
    assert fill(terse.measure.send, terse.integration_values(None)) == "M0"
    assert plain.measure.set_integration is not None
    assert fill(plain.measure.set_integration.send, plain.integration_values(0.0125)) == "SENS:APER 0.013"
    assert fill(plain.measure.set_integration.send, plain.integration_values(None)) == "SENS:APER AUTO"


def test_the_wait_grows_with_the_integration_time() -> None:
    terse = load("terse-line")
    assert terse.answer_within_s(0.5) == pytest.approx(2.0 + 1.2 * 0.5)
    assert terse.answer_within_s(8.0) == pytest.approx(2.0 + 1.2 * 8.0)
    assert terse.answer_within_s(None) == pytest.approx(2.0 + 1.2 * 4.0)


@pytest.mark.parametrize("place", ["{Y.__class__}", "{Y[0]}", "{0}", "{}"])
def test_a_template_reaches_nothing_but_names(place: str) -> None:
    with pytest.raises(ValueError, match=r"nothing is known|can't|unexpected"):
        fill(place, {"Y": 1.0})


def test_the_schema_describes_every_key() -> None:
    schema = Dialect.model_json_schema()
    for model in [schema, *schema["$defs"].values()]:
        for key, about in model["properties"].items():
            assert about.get("description"), f"{model['title']}.{key}"
