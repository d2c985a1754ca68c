"""The strict half of YAML: the same from both parsers, and nothing but data or faults from any text."""

from __future__ import annotations

from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.errors import Fault, ProfileError
from benchd.plan.plan import Plan
from benchd.plan.plan_store import load_plan
from benchd.profile.reading import strict_yaml
from tests.plan.helpers import no_file

LOADERS = [getattr(yaml, "CSafeLoader", yaml.SafeLoader), yaml.SafeLoader]
KEYS = [*Plan.model_fields, "luminance", "grayscale", "contrast", "uniformity", "patches"]
KEYS += ["steps", "codes", "grid", "levels_percent", "list", "file", "name", "code", "minutes", "until", "kinds"]


@pytest.fixture(params=LOADERS, ids=["parser in C", "parser in Python"])
def _parser(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(strict_yaml, "_Loader", request.param)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("5", 5),
        ("-5", -5),
        ("0", 0),
        ("0.6", 0.6),
        ("-0.5", -0.5),
        ("100.0", 100.0),
        ("true", True),
        ("false", False),
        # Text, whatever other readers of YAML make of them (YAML 1.1 has octal, sexagesimal and many flags).
        ("010", "010"),
        ("0o10", "0o10"),
        ("0x10", "0x10"),
        ("1_000", "1_000"),
        ("1:30", "1:30"),
        ("1e3", "1e3"),
        ("1.5e3", "1.5e3"),
        (".5", ".5"),
        ("5.", "5."),
        ("+5", "+5"),
        (".inf", ".inf"),
        (".nan", ".nan"),
        ("yes", "yes"),
        ("no", "no"),
        ("on", "on"),
        ("off", "off"),
        ("True", "True"),
        ("2026-03-02", "2026-03-02"),
        ("'5'", "5"),
        ('"true"', "true"),
        ("9" * 5000, "9" * 5000),
    ],
)
@pytest.mark.usefixtures("_parser")
def test_only_plain_decimals_are_numbers_and_only_true_and_false_are_flags(text: str, value: Any) -> None:
    found = strict_yaml.read_document(f"key: {text}\n", "f").data["key"]
    assert (type(found), found) == (type(value), value)


@pytest.mark.usefixtures("_parser")
def test_every_key_and_value_has_its_place() -> None:
    text = "α: {β: [1, two]}\nlast:\n  - x: 5\n"
    document = strict_yaml.read_document(text, "f")
    assert document.data == {"α": {"β": [1, "two"]}, "last": [{"x": 5}]}
    assert document.keys == {("α",): (1, 1), ("α", "β"): (1, 5), ("last",): (2, 1), ("last", 0, "x"): (3, 5)}
    assert document.values[("α", "β", 1)] == (1, 12)
    assert document.values[("last", 0, "x")] == (3, 8)


@pytest.mark.usefixtures("_parser")
def test_the_first_of_two_keys_is_kept_with_its_place() -> None:
    document = strict_yaml.read_document("a: [1, 2]\na: [3, 4, 5]\n", "f")
    assert document.data == {"a": [1, 2]}
    assert document.values[("a", 1)] == (1, 8)
    assert [str(fault) for fault in document.faults] == ["f:2:1: key 'a' is given twice (first in line 1); keep one"]


def test_a_python_tag_is_not_executed(tmp_path: Any) -> None:
    proof = tmp_path / "proof"
    with pytest.raises(ProfileError, match="tags are not used here"):
        load_plan(f"plan: !!python/object/apply:os.mkdir ['{proof}']\n", "f", no_file)
    assert not proof.exists()


SCALARS = st.one_of(
    st.sampled_from(["5", "0.5", "010", "yes", "true", "auto", "none", "stable", "5x5", "5x0", "~", "''", "300", "*a"]),
    st.sampled_from(["&a 1", "!t 1", "<<", "[", "{", "]", "}", "- ", "|", ">", "'", '"', "#", "\t", "@", "%", "---"]),
    st.text(max_size=8),
    st.integers().map(str),
)
LINES = st.builds(
    lambda indent, dash, key, value: " " * indent + ("- " if dash else "") + key + value,
    st.integers(0, 4),
    st.booleans(),
    st.one_of(st.just(""), st.sampled_from([f"{key}: " for key in KEYS])),
    SCALARS,
)
VALUES = st.recursive(
    st.one_of(st.integers(-5, 2000), st.floats(allow_nan=False), st.booleans(), st.text(max_size=6), st.none()),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.sampled_from([*KEYS, "nonsense"]), inner, max_size=3)
    ),
    max_leaves=12,
)


def _plan_or_faults(text: str) -> None:
    faults: tuple[Fault, ...] = ()
    try:
        assert isinstance(load_plan(text, "fuzz.yaml", no_file), Plan)
    except ProfileError as error:
        faults = error.faults or (Fault("fuzz.yaml", 0, 0, "no fault is told"),)
    for fault in faults:
        assert min(fault.line, fault.column) >= 1
        assert fault.text.isprintable()
        assert "Input should" not in fault.text
        assert "http" not in fault.text


@settings(max_examples=300, derandomize=True, deadline=None)
@given(st.lists(LINES, max_size=8).map("\n".join))
def test_any_text_gives_a_plan_or_its_faults(text: str) -> None:
    _plan_or_faults(text)


@settings(max_examples=200, derandomize=True, deadline=None)
@given(st.text(max_size=60))
def test_any_characters_give_a_plan_or_faults(text: str) -> None:
    _plan_or_faults(text)


@settings(max_examples=300, derandomize=True, deadline=None)
@given(st.dictionaries(st.sampled_from(KEYS), VALUES, max_size=5))
def test_any_values_under_known_keys_give_a_plan_or_faults(data: dict[str, Any]) -> None:
    block = {
        key: data.pop(key) for key in ("luminance", "grayscale", "contrast", "uniformity", "patches") if key in data
    }
    data.setdefault("plan", "p")
    data["blocks"] = [{key: value} for key, value in block.items()] or [{"luminance": {}}]
    _plan_or_faults(yaml.safe_dump(data, allow_unicode=True))
