"""What stands below a plot: conditions that all its logs share once, those that differ log by log, a point's own."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from benchd.analysis.analyse import analyse
from benchd.analysis.log.conditions_log import recorded_conditions
from benchd.analysis.results import Results
from benchd.analysis.verdicts.comparison import Sample
from benchd.report.data.log_reference import LogReference
from benchd.report.page.compare_page import comparison_plots
from benchd.report.page.results_page import Logged, report_plots
from benchd.report.sections.plot_conditions import MAX_DIFFERING, plot_conditions
from tests.report import logged, made

SWEPT = """\
plan: swept
warm_up: none
sweep: [{control: brightness, values: [20, 50, 100]}]
blocks: [grayscale: {steps: 11}]
"""


def under(results: Results, source: str = "operator", **values: str) -> Results:
    """The results with these conditions recorded, and no other."""
    kept = {key: [{"value": value, "source": source}] for key, value in values.items()}
    head = {"conditions": {"version": 1, "values": kept}}
    return replace(results, conditions=recorded_conditions(head, results.started))


def test_conditions_that_differ_say_whose_they_are() -> None:
    base = made.results()
    several = [
        ("a", under(base, preset="standard", local_dimming="off", input="1")),
        ("b", under(base, preset="Standard", local_dimming="off", input="1", cable="2 m")),
        ("c", under(base, preset="standard", local_dimming="none", input="1")),
    ]
    said = plot_conditions(several)
    assert "; preset standard, input 1; brightness, room light not recorded; " in said
    assert "; local dimming: a off, b off, c none; " in said
    assert said.endswith("; cable: a not recorded, b 2 m, c not recorded")
    long = plot_conditions([("a" * MAX_DIFFERING, several[0][1]), several[2]])
    assert long.endswith("; conditions differ: local dimming"), "no room for their names"


@given(st.lists(st.sampled_from(["off", "none", "low", ""]), min_size=1, max_size=5))
def test_a_condition_stands_once(dimming: list[str]) -> None:
    base = made.results()
    several = [
        (f"s{at}", under(base, **({"local_dimming": value} if value else {}))) for at, value in enumerate(dimming)
    ]
    said = plot_conditions(several)
    assert said.count("local dimming") == (0 if set(dimming) == {""} else 1)
    assert ("local dimming: " in said) == (len(set(dimming)) > 1)


def test_a_plot_of_one_point_has_the_value_of_its_point() -> None:
    swept = under(analyse(logged.records(SWEPT)), "swept", brightness="20, 50, 100")
    plots = report_plots([Logged(swept, LogReference("a.log", "ab" * 32), ())])
    both = comparison_plots([Sample(name, (swept,), (name,)) for name in ("a", "b")])
    for plot in (*plots, *both):
        at = plot.title.partition(", brightness=")[2]
        assert f"; brightness {at or '20, 50, 100'}; " in plot.conditions, plot.name
    assert {plot.title.rpartition("=")[2] for plot in plots if "=" in plot.title} == {"20", "50", "100"}
