"""What ``results.py`` of a measurement is made of: quantities, figures for the catalogue, what is absent and why."""

from benchd.analysis.catalogue_figure import Figure, figure_of
from benchd.analysis.colour.target import Target
from benchd.analysis.figure_conditions import Conditions
from benchd.analysis.measurement import Result, ResultPart, if_absent
from benchd.analysis.results import Absent
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.declared_figure import Better, DeclaredFigure

# fmt: off
__all__ = [
    "Absent", "Better", "Conditions", "DeclaredFigure", "Figure", "Quantity", "Result", "ResultPart", "Target",
    "figure_of", "if_absent",
]
