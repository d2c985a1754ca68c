"""What a measurement gives analysis: the shape of its results, its figures for the catalogue, and how they are made."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, ClassVar, Protocol, TypeAlias

from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.results import Absent, Results
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements import registry
from benchd.measurements.declared_figure import DeclaredFigure

if TYPE_CHECKING:  # what analyses: a report does not need it
    from benchd.analysis.colour.target import Target
    from benchd.analysis.log.log_data import LogData
    from benchd.analysis.log.step_light import MeterRange


class Result(Protocol):
    """The result of one block: a frozen dataclass."""

    kind: ClassVar[str]
    """The kind of measurement; a class attribute and no field."""

    @property
    def block(self) -> str:
        """Name of the block."""


Analysis: TypeAlias = "Callable[[LogData, Mapping[str, Any], MeterRange, Target | None], Any]"
"""Data of the log's steps, what the log keeps of the block, the meter's range, the target -> the block's `Result`."""


KeyOf: TypeAlias = Callable[[Any], str] | str
"""The key of an item of a collection, or the name of the field that holds it."""


@dataclass(frozen=True, slots=True)
class ResultPart:
    """What is known of the results of one kind.

    ``shape``     the class of its results
    ``figures``   its figures, most important first; the target is the one that the log was judged by
    ``absences``  what a result could not give, with the reason
    ``keys``      collections that become objects in JSON: (class, field) -> the key of an item, or which of its fields
                  is the key
    ``names``     tuples of fixed length that become objects in JSON: (class, field) -> their keys
    ``aimed``     fields whose figures the target decides
    ``target_in_hdr``  are some held against the SDR target of the plan with an HDR signal too?
    ``declared``  what is known of its figures before anything is measured, stand-ins for those of other kinds apart
    ``with_room`` the result with what the light of the room does to its black; None: black is no figure of it
    """

    shape: type[Any]
    figures: Callable[[Any, Target | None], Iterator[Figure]]
    absences: Callable[[Any], Iterator[Absent]]
    keys: Mapping[tuple[type, str], KeyOf] = field(default_factory=dict)
    names: Mapping[tuple[type, str], tuple[str, ...]] = field(default_factory=dict)
    declared: tuple[DeclaredFigure, ...] = ()
    with_room: Callable[[Any, Callable[[Quantity], str]], Any] | None = None
    aimed: frozenset[str] = frozenset()
    target_in_hdr: bool = False


def no_parts(one: Any) -> Iterable[tuple[str, Quantity]]:
    """Of a result without parts whose figures may be absent."""
    return ()


def if_absent(path: str, figure: Quantity) -> Iterator[Absent]:
    """``path`` and the reason where ``figure`` has neither value nor bound."""
    if not figure.present:
        yield Absent(path, figure.why)


def absences_of(
    *names: str, parts: Callable[[Any], Iterable[tuple[str, Quantity]]] = no_parts, missing_alone: bool = False
) -> Callable[[Any], Iterator[Absent]]:
    """What a result could not give: what its ``missing`` says, and which figures are absent.

    ``names`` of fields, and ``parts`` with their paths; ``missing_alone``: where something is missing, only that
    """

    def absences(one: Any) -> Iterator[Absent]:
        if one.missing:
            yield Absent(one.block, one.missing)
        if not (one.missing and missing_alone):
            for path, figure in (*((name, getattr(one, name)) for name in names), *parts(one)):
                yield from if_absent(f"{one.block}/{path}", figure)

    return absences


def analysis_of(kind: str) -> Analysis:
    """The analysis of a kind; imported when a log has a block of its kind, not before."""
    found: Analysis = registry.part(kind, "analysis")
    return found


def analysed_block(
    kind: str, log: LogData, block: Mapping[str, Any], meter: MeterRange, target: Target | None
) -> Result:
    """The result of one block. Raises a `PackageError` where the code of an installed kind fails, its figures too."""
    analysis = analysis_of(kind)
    if registry.is_built_in(kind):
        result: Result = analysis(log, block, meter, target)
        return result
    part = result_part(kind)
    try:
        result = analysis(log, block, meter, target)
        if type(result) is not part.shape:
            raise TypeError(f"its result is a {type(result).__name__} and no {part.shape.__name__}")
        for _ in (*part.figures(result, target), *part.absences(result)):
            pass
    except Exception as error:  # whatever a stranger's code does
        raise registry.broken(kind, error) from error
    return result


def result_part(kind: str) -> ResultPart:
    """What is known of the results of a kind."""
    found: ResultPart = registry.part(kind, "results")
    return found


def in_order(results: Results) -> list[Any]:
    """The results of all blocks in the order of a report: kind by kind, those of a kind in the order of the log."""
    order = {kind: place for place, kind in enumerate(registry.kinds())}
    return sorted(results.blocks.values(), key=lambda one: order.get(one.kind, len(order)))
