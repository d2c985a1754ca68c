"""Conditions: the grammar, its faults with their columns, and what can't be told."""

from __future__ import annotations

import math
from typing import Any, cast

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.errors import InputError, ProfileError
from benchd.library.conditions import FACTS, Both, Compare, Condition, Either, Not, judge, names_in, parse
from benchd.library.entry import Facts, Figure
from benchd.library.figure_names import FigureNames
from benchd.library.store import Store, StoredSample
from tests.plan.helpers import refusal

FIGURES = FigureNames(
    frozenset({"contrast", "white", "luminance/white_chromaticity/cct", "preset=warm,brightness=50/contrast/ratio"}), {}
)


def figure(value: float | None, u: float | None = None, bound: str | None = None) -> Figure:
    low, high = (None, None) if value is None or u is None else (value - u, value + u)
    return Figure(value, u, None if u is None else u / 2.0, 2.0, None, low, high, 3, 0.1, "ok", bound, "", "1-3")


class Columns:
    """Stands in for the index: figures of one sample by name."""

    def __init__(self, **figures: Figure) -> None:
        self._figures = figures

    def figure(self, name: str) -> tuple[str, dict[int, Figure]]:
        found = self._figures.get(name.replace("-", "_"))
        return ("cd/m2" if name == "white" else "1"), {} if found is None else {1: found}


def sample(**changes: Any) -> StoredSample:
    facts: dict[str, Any] = {
        "sha256": "ab" * 32,
        "sample": "plover-27/1",
        "plan": "quick",
        "target": "srgb",
        "note": "low blue",
        "started": "2026-03-02T18:12:04.123Z",
        "complete": True,
        "simulated": False,
        "imported": "",
        "stated": True,
        "meter": "LAPWING 0007",
        "screen": "HDMI-1",
        "steps_done": 4,
        "steps_planned": 4,
        "readings": 16,
        "faults": 0,
    }
    return StoredSample(1, Facts(**(facts | changes)), "plover/1.log", 0)


def verdict(text: str, *, surely: bool = False, facts: dict[str, Any] | None = None, **figures: Figure) -> bool | None:
    store = cast(Store, Columns(**figures))
    return judge(parse(text, FIGURES), store, surely=surely)(sample(**(facts or {})))


def test_and_binds_closer_than_or() -> None:
    found = parse("contrast >= 1000 and sample = a or not (white < 3 or plan != b)", FIGURES)
    assert found == Either(
        (
            Both((Compare("contrast", ">=", 1000.0, "", 1), Compare("sample", "=", "a", "", 22))),
            Not(Either((Compare("white", "<", 3.0, "", 41), Compare("plan", "!=", "b", "", 54)))),
        )
    )
    assert names_in(found) == ("contrast", "sample", "white", "plan")


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", "condition:1:1: an empty condition; write one such as: contrast >= 1000"),
        ("contrst > 3", "condition:1:1: no sample has a figure 'contrst'; did you mean contrast?"),
        ("contrast 3", "condition:1:10: after contrast belongs one of = != < <= > >="),
        ("contrast > ", "condition:1:12: after contrast > belongs a value"),
        ("contrast > much", "condition:1:12: contrast is a figure; 'much' is not a number"),
        ("(contrast > 3", "condition:1:14: a ) is missing"),
        ("contrast > 3 white < 2 < 1", "condition:1:20: 'white' stands"),
        ("contrast > 3 )", "condition:1:14: ')' stands where 'and' or 'or' must"),
        ("contrast > 3 and", "condition:1:17: here belongs a figure or a fact"),
        ("sample > a", "condition:1:10: sample is a text; compare it with = or !="),
        ("simulated = true", "condition:1:13: write simulated = yes or simulated = no"),
        ('note = "low', 'condition:1:8: a " without its second one'),
        ("a ! b", "condition:1:3: '!' has no meaning"),
        ("not " * 60 + "contrast > 3", "more than 50 brackets"),
        ("started >= 2026-13-45", "condition:1:12: 2026-13-45 is no date; write it such as 2026-03-01 or 2026-03"),
        ("contrast > 3:2", "'3:2' is not a number"),
        ("contrast > nan", "'nan' is not a number"),
        ("contrast > 1e999 or x", "no sample has a figure 'x'"),
    ],
)
def test_faults_say_where_and_what(text: str, fault: str) -> None:
    refused = refusal(parse, text, FIGURES)
    if "stands" in fault and "white" in fault:  # a unit may follow a number: the sign after it is what is wrong
        assert "stands where 'and' or 'or' must" in str(refused)
    else:
        assert fault in str(refused)


def test_facts_are_texts_with_stars() -> None:
    assert verdict("sample = plover-27/*") is True
    assert verdict("sample = PLOVER-27/1") is True
    assert verdict("sample = plover-27") is False
    assert verdict("model = plover-27") is True
    assert verdict('note = "*low blue*"') is True
    assert verdict('note = "low.blue"') is False, "a dot is a dot"
    assert verdict("simulated = no and complete = yes and stated = yes") is True
    assert verdict("simulated = yes", facts={"simulated": True}) is True
    assert verdict("started >= 2026-03-01 and started < 2026-04") is True
    assert verdict("log = abab* and file = *.log and screen != DP-1") is True
    assert verdict('imported = ""') is True


def test_a_bound_fulfils_what_it_surely_fulfils() -> None:
    above, below = figure(82000.0, bound="above"), figure(0.005, bound="below")
    assert verdict("contrast >= 1000", contrast=above) is True
    assert verdict("contrast >= 100000", contrast=above) is None
    assert verdict("contrast < 1000", contrast=above) is False
    assert verdict("contrast = 90000", contrast=above) is None
    assert verdict("contrast = 1000", contrast=above) is False
    assert verdict("white <= 0.01", white=below) is True
    assert verdict("white > 0.01", white=below) is False
    assert verdict("white <= 0.001", white=below) is None


def test_what_is_absent_can_not_be_told() -> None:
    assert verdict("contrast > 1") is None
    assert verdict("not contrast > 1") is None
    assert verdict("contrast > 1 and sample = x") is False
    assert verdict("contrast > 1 or sample = plover*") is True
    assert verdict("contrast > 1", contrast=figure(None)) is None


def test_surely_asks_the_whole_interval() -> None:
    assert verdict("white >= 350", white=figure(351.0, 2.0)) is True
    assert verdict("white >= 350", surely=True, white=figure(351.0, 2.0)) is None
    assert verdict("white >= 350", surely=True, white=figure(353.0, 2.0)) is True
    assert verdict("white >= 350", surely=True, white=figure(347.0, 2.0)) is False
    assert verdict("white >= 350", surely=True, white=figure(353.0)) is None, "no uncertainty, no certainty"


def test_surely_needs_a_word_on_the_meter_as_claims_do() -> None:
    white = figure(353.0, 2.0)
    assert verdict("white >= 350", surely=True, facts={"stated": False}, white=white) is None
    assert verdict("white >= 350", facts={"stated": False}, white=white) is True


def test_surely_asks_the_ends_of_a_skew_interval() -> None:
    """1.57 (1.08 to 2.40) is not 1.57 ± 0.66: 2.3 is within the one and beyond the other."""
    skew = figure(1.57)._replace(low=1.08, high=2.40)
    assert verdict("white < 2.3", surely=True, white=skew) is None
    assert verdict("white < 2.5", surely=True, white=skew) is True
    assert verdict("white > 1", surely=True, white=skew) is True
    assert verdict("white > 1.2", surely=True, white=skew) is None


def test_a_unit_must_be_the_figures_own() -> None:
    assert verdict("white >= 350 cd/m2 and sample = plover*", white=figure(400.0)) is True
    assert verdict("white >= 100 fL", white=figure(342.7)) is True
    assert verdict("not (white >= 100 fL)", white=figure(342.5)) is True
    assert verdict("contrast >= 1000:1", contrast=figure(1000.1)) is True
    with pytest.raises(InputError, match="condition:1:1: white has the unit cd/m2, not lx"):
        verdict("white >= 350 lx", white=figure(400.0))
    with pytest.raises(InputError, match="contrast has no unit, not cd/m2"):
        verdict("contrast >= 350 cd/m2", contrast=figure(400.0))


def test_a_path_with_signs_goes_in_quotes() -> None:
    found = parse('"preset=warm,brightness=50/contrast/ratio" > 900', FIGURES)
    assert names_in(found) == ("preset=warm,brightness=50/contrast/ratio",)


WORDS = st.sampled_from(
    ["contrast", "white", "sample", "and", "or", "not", "(", ")", "=", ">=", "<", "1000", "x*", '"a b"', "!", '"', "'"]
)


@settings(derandomize=True, max_examples=300, deadline=None)
@given(st.lists(WORDS, max_size=14).map(" ".join) | st.text(max_size=60))
def test_any_text_is_a_condition_or_a_fault(text: str) -> None:
    try:
        found = parse(text, FIGURES)
    except ProfileError as error:
        fault = str(error)
    else:
        assert set(names_in(found)) <= {*FACTS, *FIGURES.names}
        return
    assert fault.startswith("condition:1:")


VALUES = st.floats(-1e6, 1e6) | st.integers(-5, 5).map(float)
BOUNDS: st.SearchStrategy[str | None] = st.sampled_from([None, "above", "below"])


@settings(derandomize=True, max_examples=300, deadline=None)
@given(VALUES, BOUNDS, VALUES, st.floats(0.0, 1e6))
def test_a_verdict_never_contradicts_the_truth(value: float, bound: str | None, limit: float, beyond: float) -> None:
    """Wherever a bound leaves the truth, a verdict of yes or no is right about it."""
    truth = {None: value, "above": value + beyond, "below": value - beyond}[bound]
    signs = {"<": truth < limit, "<=": truth <= limit, ">": truth > limit, ">=": truth >= limit}
    for sign, right in signs.items():
        condition: Condition = Compare("white", cast(Any, sign), limit, "", 1)
        found = judge(condition, cast(Store, Columns(white=figure(value, bound=bound))))(sample())
        at_edge = bound is not None and math.isclose(truth, limit)
        assert found is None or found == right or at_edge


def test_recorded_conditions_are_facts_too() -> None:
    def holds(text: str, recorded: str) -> bool | None:
        return judge(parse(text, FIGURES), cast(Store, Columns()))(sample(conditions=recorded))

    recorded = '{"preset": "Standard", "room_temperature_c": 23, "firmware": null}'
    assert holds("preset = standard and room_temperature_c = 23", recorded)
    assert holds('firmware = "not recorded" and cable = "not recorded"', recorded)
    assert not holds("preset = warm", recorded)
    with pytest.raises(ProfileError, match="is a text; compare it with = or !="):
        parse("room_temperature_c > 20", FIGURES)


def test_a_name_of_several_words_needs_no_quotation_marks_of_its_own() -> None:
    names = FigureNames(frozenset({"contrast", "contrast at brightness=50", "white luminance", "white"}), {})
    quoted = parse('"contrast at brightness=50" > 1000 and not ("white luminance" < 3 cd/m2 or sample = a)', names)
    bare = parse("contrast at brightness=50 > 1000 and not (white luminance < 3 cd/m2 or sample = a)", names)
    assert [(one.name, one.sign, one.value, one.unit) for one in compared(bare)] == [
        (one.name, one.sign, one.value, one.unit) for one in compared(quoted)
    ]
    refused = refusal(parse, "contrast at brightness=20 > 1000", names)
    assert str(refused).startswith("condition:1:1: no sample has a figure 'contrast at brightness=20'; ")


def compared(condition: Condition) -> list[Compare]:
    if isinstance(condition, Compare):
        return [condition]
    parts = (condition.part,) if isinstance(condition, Not) else condition.parts
    return [one for part in parts for one in compared(part)]
