"""What the library keeps of one log: facts about the run, and its figures."""

from __future__ import annotations

from typing import NamedTuple

MODEL_SIGN = "/"
"""``plover-27/1`` is the sample 1 of the model ``plover-27``."""


UNNAMED_DIGITS = 8
"""Of the digest of a log: as many as distinguish those of a laboratory (two of 1000 are alike once in 8600)."""


class Figure(NamedTuple):
    """One figure as it is kept; the meaning of each is that of `benchd.report.data.document`."""

    value: float | None
    expanded_uncertainty: float | None
    standard_uncertainty: float | None
    coverage_factor: float | None
    dof: float | None
    low: float | None
    high: float | None
    n: int
    s: float | None
    status: str
    bound: str | None
    why: str
    records: str
    settings: str = ""
    """The point of a sweep that it is of, such as "brightness=50 preset=warm"; "" without a sweep."""
    conditions: str = ""
    """What it holds for, as of `benchd.analysis.figure_conditions`: only figures of equal ones are ranked together."""


class BudgetPart(NamedTuple):
    """A share of a figure's standard uncertainty, in its unit, with its sign and degrees of freedom (None: infinite).

    ``source`` names what it comes from where another log can have the same, such as the scale of one meter; "" for
    all the rest of this log, taken together.
    """

    source: str
    amount: float
    dof: float | None


class Facts(NamedTuple):
    """About one log and its run.

    ``imported``  the file that its readings were imported from, or ""
    ``stated``    true when something is stated of its meter; else every uncertainty is of the repeatability alone
    ``conditions``  the recorded conditions of the run by their key, as JSON
    ``unread``    what the log lacks, and why: points skipped, blocks that can't be read here; "" for none
    ``technology``, ``correction``, ``by_spectrum``  as of `benchd.analysis.meter_model.spectral.Spectral`
    """

    sha256: str
    sample: str
    plan: str
    target: str
    note: str
    started: str
    complete: bool
    simulated: bool
    imported: str
    stated: bool
    meter: str
    screen: str
    steps_done: int
    steps_planned: int
    readings: int
    faults: int
    technology: str = ""
    correction: str = ""
    by_spectrum: bool = False
    unread: str = ""
    conditions: str = "{}"

    @property
    def name(self) -> str:
        """The sample's name. A log that was given none is a sample of its own, named after its digest."""
        return self.sample or f"unnamed {self.sha256[:UNNAMED_DIGITS]}"

    @property
    def model(self) -> str:
        """The sample's name up to its last "/"; all of it without one."""
        return self.name.rpartition(MODEL_SIGN)[0] or self.name


class NamedFigure(NamedTuple):
    """A figure with its name and unit; ``headline`` when the name is one of `benchd.analysis.catalogue`.

    Of a headline also: ``kind`` of its digits, which way it is ``better`` ("more", "less", "nearer"), a ``short`` name
    or "", and the ``parts`` of its uncertainty, none where that is not known or its interval is not symmetrical.
    """

    name: str
    unit: str
    headline: bool
    figure: Figure
    kind: str = ""
    better: str = "nearer"
    short: str = ""
    parts: tuple[BudgetPart, ...] = ()
