"""What ``show.py`` of a measurement is made of: a report as data, which benchd draws on every kind of page."""

from benchd.report.measurement import ShowPart
from benchd.report.model import Column, Heading, Line, Map, Part, Section, Table, Together, Words, ending
from benchd.report.plots.plot import Plot

# fmt: off
__all__ = [
    "Column", "Heading", "Line", "Map", "Part", "Plot", "Section", "ShowPart", "Table", "Together", "Words",
    "ending",
]
