"""What ``analysis.py`` of a measurement is made of: the data of a log's steps, and sums with their uncertainty."""

from benchd.analysis.colour.target import Target
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.step_data import StepData
from benchd.analysis.log.step_light import LUMINANCE_UNIT, MeterRange, luminance_of
from benchd.analysis.measurement import Analysis
from benchd.analysis.uncertainty.quantity import Quantity, absent, mean, ratio, scaled, with_note

# fmt: off
__all__ = [
    "LUMINANCE_UNIT", "Analysis", "LogData", "MeterRange", "Quantity", "StepData", "Target", "absent",
    "luminance_of", "mean", "ratio", "scaled", "with_note",
]
