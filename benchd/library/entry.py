"""What the library keeps of one log: facts about the run, and its figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from benchd.library.headlines import headlines_of
from benchd.report.data import Json, quantities

MODEL_SIGN = "/"
"""``plover-27/1`` is the sample 1 of the model ``plover-27``."""


class Figure(NamedTuple):
    """One figure as it is kept; the meaning of each is that of `benchd.report.data`."""

    value: float | None
    u: float | None
    k: float | None
    dof: float | None
    low: float | None
    high: float | None
    n: int
    s: float | None
    status: str
    bound: str | None
    why: str
    records: str

    @classmethod
    def of(cls, quantity: Json) -> Figure:
        """The figure of a quantity as JSON."""
        records = " ".join(f"{first}-{last}" for first, last in quantity["records"])
        u, k, dof, low, high = (quantity.get(key) for key in ("u", "k", "dof", "low", "high"))
        own = [quantity[key] for key in ("n", "s", "status", "bound", "why")]
        return cls(quantity["value"], u, k, dof, low, high, *own, records)


@dataclass(frozen=True, slots=True)
class Facts:
    """About one log and its run. ``imported``: the file that its readings were imported from, or ""."""

    sha256: str
    sample: str
    plan: str
    target: str
    note: str
    started: str
    complete: bool
    simulated: bool
    imported: str
    meter: str
    screen: str
    steps_done: int
    steps_planned: int
    readings: int
    faults: int

    @property
    def model(self) -> str:
        """The sample's name up to its last "/"; all of it without one."""
        return self.sample.rpartition(MODEL_SIGN)[0] or self.sample


def facts_of(document: Json) -> Facts:
    """The facts in the results of one log."""
    meter, screen, target = document["meter"], document["screen"], document["target"]
    return Facts(
        sha256=document["log"]["sha256"],
        sample=document["sample"],
        plan=document["plan"],
        target=str(target.get("name", "")) if target else "",
        note=document["note"],
        started=document["started"],
        complete=document["complete"],
        simulated=document["simulated"],
        imported=document.get("imported") or "",
        meter=" ".join(str(meter[key]) for key in ("model", "serial_number") if meter.get(key)),
        screen=str(screen.get("name", "")),
        steps_done=document["steps"]["done"],
        steps_planned=document["steps"]["planned"],
        readings=document["readings"],
        faults=document["faults"],
    )


class Named(NamedTuple):
    """A figure with its name and unit; ``headline`` when the name is one of `benchd.library.headlines`."""

    name: str
    unit: str
    headline: bool
    figure: Figure


def figures_of(document: Json) -> Iterator[Named]:
    """Every figure in the results of one log: the headlines, then all by their paths."""
    for name, quantity in headlines_of(document):
        yield Named(name, quantity["unit"], True, Figure.of(quantity))
    for path, quantity in quantities(document):
        yield Named(path, quantity["unit"], False, Figure.of(quantity))
