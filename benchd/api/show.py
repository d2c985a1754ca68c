"""What ``show.py`` of a measurement is made of: a report as data, which benchd draws on every kind of page."""

from benchd.report.brief import Brief, BriefFigure, BriefLine
from benchd.report.drawing.axes import Area, Axes, Curve, Intervals, Note, level
from benchd.report.drawing.axis import Axis
from benchd.report.measurement import ShowPart
from benchd.report.model import Column, Heading, Line, Map, Part, Section, Table, Together, Words, ending
from benchd.report.plots.plot import Plot
from benchd.report.stands_out import Remark

# fmt: off
__all__ = [
    "Area", "Axes", "Axis", "Brief", "BriefFigure", "BriefLine", "Column", "Curve", "Heading", "Intervals", "Line",
    "Map", "Note", "Part", "Plot", "Remark", "Section", "ShowPart", "Table", "Together", "Words", "ending", "level",
]
