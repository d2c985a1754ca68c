"""What ``show.py`` of a measurement is made of: a report as data, which benchd draws on every kind of page."""

from benchd.report.measurement import ShowPart
from benchd.report.model import Column, Line, Section, Table, Words
from benchd.report.plots.plot import Plot

# fmt: off
__all__ = [
    "Column", "Line", "Plot", "Section", "ShowPart", "Table", "Words",
]
