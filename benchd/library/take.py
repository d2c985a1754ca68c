"""From the results of one log to what the library keeps of it."""

from __future__ import annotations

from collections.abc import Iterator

from benchd.library.entry import Facts, Figure, Named
from benchd.library.headlines import HEADLINES
from benchd.report.data import Json, quantities


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
        imported=document["imported"],
        stated=document["uncertainty"] is not None,
        meter=" ".join(str(meter[key]) for key in ("model", "serial_number") if meter.get(key)),
        screen=str(screen.get("name", "")),
        steps_done=document["steps"]["done"],
        steps_planned=document["steps"]["planned"],
        readings=document["readings"],
        faults=document["faults"],
    )


def figures_of(document: Json) -> Iterator[Named]:
    """Every figure in the results of one log: the headlines, then all by their paths."""
    for name, quantity in headlines_of(document):
        yield Named(name, quantity["unit"], True, figure_of(quantity))
    for path, quantity in quantities(document):
        yield Named(path, quantity["unit"], False, figure_of(quantity))


def figure_of(quantity: Json) -> Figure:
    """The figure of a quantity as JSON."""
    records = " ".join(f"{first}-{last}" for first, last in quantity["records"])
    u, k, dof, low, high = (quantity.get(key) for key in ("u", "k", "dof", "low", "high"))
    n, s, status, bound, why = (quantity[key] for key in ("n", "s", "status", "bound", "why"))
    return Figure(quantity["value"], u, k, dof, low, high, n, s, status, bound, why, records)


def headlines_of(document: Json) -> Iterator[tuple[str, Json]]:
    """Name and figure of every headline that the results of one log have."""
    if document["sweep"] is not None:
        return
    first: dict[str, str] = {}
    for block, body in document["blocks"].items():
        first.setdefault(body["kind"], block)
        if "list" in body:
            first.setdefault(f"{body['kind']}:{body['list']}", block)
    found = dict(quantities(document))
    for headline in HEADLINES:
        for kind, path in headline.places:
            quantity = found.get(f"{first[kind]}/{path}") if kind in first else None
            if quantity is not None and quantity["value"] is not None:
                yield headline.name, quantity
                break
