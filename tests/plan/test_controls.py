"""Controls and stages in a bench profile: what is right, and what each fault is told as."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchd.profile.bench import Bench
from benchd.profile.display import ControlPart
from benchd.profile.reading.strict_yaml import load_model
from benchd.profile.stage_dialect import StageDialect
from tests.plan.helpers import refusal

BENCH = """bench: b
screen: {monitor: primary}
instruments: {meter: {command: [./m]}}
"""
STAGE = (Path(__file__).parents[2] / "profiles" / "stages" / "invented-stage.yaml").read_text()


def bench(text: str) -> Bench:
    return load_model(Bench, BENCH + text, "b.yaml")


def faults(text: str) -> list[str]:
    return [str(fault).removeprefix("b.yaml:") for fault in refusal(bench, text).faults]


def test_the_four_ways_to_set_a_control() -> None:
    found = bench(
        """controls:
  brightness: {ddc: 16, low: 0, high: 100, settle_s: 1.5}
  preset: {ddc: 20, values: {standard: 5, warm: 4, off: 11}, settle_s: 2}
  refresh: {command: [my-tool, "{value}"], read: [my-tool, --get], settle_s: 5}
  local-dimming: {prompt: "Set local dimming to {value} in the menu", values: {off: 0, low: 1, high: 2}}
ddc: {bus: auto, name: PLOVER 27}
"""
    )
    assert list(found.controls) == ["brightness", "preset", "refresh", "local-dimming"]
    assert [part.needs_operator for part in found.controls.values()] == [False, False, False, True]
    assert found.controls["preset"].values == {"standard": 5, "warm": 4, "off": 11}
    assert bench("").controls == {}


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("x: {settle_s: 1}", "5:6: state how it is set: ddc: CODE, command: [words] or prompt: TEXT"),
        ("x: {ddc: 16, command: [a, '{value}']}", "5:16: give ddc or a command, not both"),
        ("x: {ddc: 300}", "5:12: ddc 300: use 0 to 255"),
        ("x: {ddc: 0x10}", "5:12: ddc: needs a whole number, not '0x10'; write it as a plain decimal: 16 (VCP code of"),
        ("x: {ddc: 16, from: 0}", "5:16: unknown key 'from'; did you mean 'low'?"),
        ("x: {command: [a]}", "5:16: no word has {value}, where the value belongs"),
        ("x: {prompt: Do it}", "5:15: give the value too: {value} stands for it"),
        ("x: {ddc: 16, read: [a]}", "5:16: 'read' belongs to a command"),
        ("x: {ddc: 16, values: {a: 1}, low: 0}", "5:32: give values, or low and high, not both: 'low'"),
        ("x: {ddc: 16, low: 50, high: 10}", "5:31: high 10 is less than low 50"),
        ("x: {ddc: 20, values: {a: warm}}", "5:28: 'warm': a display takes a whole number, 0 to 65535"),
        ("x: {ddc: 20, values: {a: 1, b: 1}}", "5:34: 1 already stands for another name"),
        ("x: {ddc: 20, values: {'a/b': 1}}", "5:32: name 'a/b': at most 32 letters, without / , and ="),
        ("x: {ddc: 20, values: {}}", "5:24: values a mapping: write what each name is for the display"),
        ("x: {ddc: 16, setle_s: 1}", "5:16: unknown key 'setle_s'; did you mean 'settle_s'?"),
        ("Brightness: {ddc: 16}", "5:15: name 'Brightness': small letters"),
    ],
)
def test_a_fault_in_a_control(line: str, says: str) -> None:
    found = faults(f"controls:\n  {line}\nddc: {{bus: auto}}\n")
    assert any(fault.startswith(says) for fault in found), found


@pytest.mark.parametrize(
    ("key", "word", "says"),
    [
        ("screen", "HDMI-1", "screen: {monitor: HDMI-1}"),
        ("screen", "prompt", "screen: {prompt: what shows the patches, size: 3840x2160}"),
        ("meter", "my-meter", "meter: {dialect: my-meter, port: auto, candidates: [patterns of port names]}"),
    ],
)
def test_a_word_in_the_place_of_a_mapping_is_answered_with_one_that_is_taken(key: str, word: str, says: str) -> None:
    begin = "instruments: " if key == "meter" else ""
    rest = "screen: {}" if key == "meter" else "instruments: {meter: {command: [./m]}}"

    def text(value: str) -> str:
        return f"bench: b\n{rest}\n{begin}{{{value}}}\n" if begin else f"bench: b\n{rest}\n{value}\n"

    [fault] = refusal(load_model, Bench, text(f"{key}: {word}"), "b.yaml").faults
    assert fault.text == f"{key}: needs a mapping; write {says}"
    load_model(Bench, text(says), "b.yaml")


def test_a_number_for_text_and_a_pair_without_its_comma_say_what_to_write() -> None:
    meter = "instruments: {meter: {command: [./m]}, stage: {dialect: s, port: p, origin_mm: [40 30], size_mm: [6, 3]}}"
    text = BENCH.replace("instruments: {meter: {command: [./m]}}", meter)
    assert "origin_mm: write [x, y] in millimetres, with a comma" in str(refusal(load_model, Bench, text, "b.yaml"))
    text = BENCH.replace("[./m]", "[./m], serial_number: 1234")
    refused = refusal(load_model, Bench, text, "b.yaml")
    assert 'serial_number: needs text, not 1234; put it in quotation marks: "1234"' in str(refused)


def test_a_control_channel_must_be_named() -> None:
    assert faults("controls:\n  x: {ddc: 16}\n") == ["5:7: state where: ddc: {bus: /dev/i2c-4} or {bus: auto}"]
    assert faults("ddc: {bus: /dev/i2c-4, name: A}\n") == ["4:24: 'name' is for bus: auto"]


@pytest.mark.parametrize(
    ("part", "good", "bad"),
    [
        (ControlPart(ddc=16, low=10, high=90), [10, 90], [9, 91, 50.5, "50", True]),
        (ControlPart(ddc=16), [0, 65535], [-1, 65536, "warm"]),
        (ControlPart(ddc=20, values={"warm": 4}), ["warm"], [4, "cold"]),
        (ControlPart(command=("a", "{value}")), [60, 59.94, "mode-1"], []),
    ],
)
def test_which_values_a_plan_may_ask_for(part: ControlPart, good: list[object], bad: list[object]) -> None:
    for value in good:
        assert part.fault_of(value) is None  # type: ignore[arg-type]
    for value in bad:
        if value is not True:  # a plan's values are never flags
            assert part.fault_of(value)  # type: ignore[arg-type]


def test_a_stage_in_a_bench() -> None:
    stage = "stage: {dialect: s, port: /dev/ttyUSB1, origin_mm: [40, 30.5], size_mm: [-597, 336]}"
    found = load_model(Bench, BENCH.replace("./m]}}", f"./m]}}, {stage}}}"), "b.yaml")
    assert not found.manual_moves
    assert found.instruments.stage is not None
    assert found.instruments.stage.origin_mm == (40.0, 30.5)
    assert found.instruments.stage.size_mm == (-597.0, 336.0)
    assert bench("").manual_moves


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("{dialect: s, port: p, origin_mm: [0, 0]}", "5:10: a stage needs 'size_mm'"),
        ("{dialect: s, port: p, origin_mm: [0], size_mm: [1, 1]}", "5:43: origin_mm: write [x, y] in millimetres"),
        ("{dialect: s, port: p, origin_mm: [0, 0], size_mm: [0, 1]}", "5:60: a screen has a width and a height"),
        (
            "{dialect: s, command: [a], port: p, origin_mm: [0, 0], size_mm: [1, 1]}",
            "5:11: give a command or a",
        ),
        ("{stage: s, port: p, origin_mm: [0, 0], size_mm: [1, 1]}", "5:11: 'stage' is now called dialect: NAME"),
        ("{command: [a], port: p}", "5:25: 'port' is for a motion stage"),
        ("{}", "5:10: state what moves the meter"),
    ],
)
def test_a_fault_in_a_stage_of_a_bench(line: str, says: str) -> None:
    text = f"bench: b\nscreen: {{}}\ninstruments:\n  meter: {{command: [./m]}}\n  stage: {line}\n"
    found = [str(fault).removeprefix("b.yaml:") for fault in refusal(load_model, Bench, text, "b.yaml").faults]
    assert len(found) == 1 or not line.startswith("{stage"), found
    assert any(fault.startswith(says) for fault in found), found


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"GO {x_mm:.2f} {y_mm:.2f}"', '"GO {x_mm:.2f}"', "{y_mm} is missing; a move needs {x_mm} and {y_mm}"),
        ("(?P<y_mm>-?[0-9]+", "(-?[0-9]+", "the group y_mm is missing"),
        ('"at {x_mm:.2f} {y_mm:.2f}"', '"AT {x_mm:.2f}"', "is not matched by 'expect'"),
        ('{send: "MM", expect: "ok"', '{send: "MM {x_mm}", expect: "ok"', "x_mm"),
        ('"err 1": it does', '"err (1": it does', "the pattern can't be read"),
        ("tolerance_mm: 0.05", "tolerance_mm: 0", "tolerance_mm 0: use"),
    ],
)
def test_a_fault_in_a_stage_dialect(old: str, new: str, says: str) -> None:
    assert old in STAGE
    assert says in str(refusal(load_model, StageDialect, STAGE.replace(old, new), "s.yaml"))


def test_the_shipped_stage() -> None:
    dialect = load_model(StageDialect, STAGE, "invented-stage.yaml")
    assert (dialect.name, dialect.device) == ("invented-stage", "stage")
    assert dialect.move_within_s(100.0) == pytest.approx(6.0)
    assert dialect.error_of("err 3") == ("err 3", "a limit switch was hit")
    assert dialect.error_of("ok") is None
