"""What a measurement gives a report: its section as data, and its plots."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from benchd.analysis.figure_conditions import target_text
from benchd.analysis.results import Results
from benchd.errors import PackageError
from benchd.measurements import registry
from benchd.report.brief import Brief
from benchd.report.drawing.axes import Axes, Note
from benchd.report.drawing.axis import Axis
from benchd.report.model import Section, Words
from benchd.report.plots.chromaticity import Chromaticities
from benchd.report.plots.plot import Plot
from benchd.report.stands_out import Remark


def no_plots(several: Sequence[tuple[str, Any]], name: str, simulated: bool) -> list[Plot]:
    """A kind that has none."""
    return []


def no_colours(result: Any) -> Chromaticities:
    """A kind that has nothing in the chromaticity diagram."""
    return Chromaticities()


def nothing(result: Any) -> str:
    """No words."""
    return ""


def no_brief(result: Any) -> Brief:
    """A kind whose lines of a summary are made from the figures that it declares."""
    return Brief(())


@dataclass(frozen=True, slots=True)
class ShowPart:
    """How one kind of measurement is shown.

    ``section``  its tables, lines and words as data: one renderer draws them on a terminal, one on a page
    ``plots``    plots of (label, result) of one or several logs overlaid; ``name`` begins the names of their files
    ``colours``  what it has in the chromaticity diagram, which all blocks of a log share
    ``alike``    what must agree, beside the target, for results to be overlaid in one plot
    ``against``  with an HDR signal: what its figures are held against
    ``brief``    its lines of a summary, and what stands out
    """

    section: Callable[[Any], Section]
    plots: Callable[[Sequence[tuple[str, Any]], str, bool], list[Plot]] = no_plots
    colours: Callable[[Any], Chromaticities] = no_colours
    alike: Callable[[Any], str] = nothing
    against: Callable[[Any], str] = nothing
    brief: Callable[[Any], Brief] = no_brief


def show_part(kind: str) -> ShowPart:
    """How a kind is shown; imported when a report has a block of its kind, not before."""
    if registry.is_built_in(kind):
        built_in: ShowPart = registry.part(kind, "show")
        return built_in
    try:
        found: ShowPart = registry.part(kind, "show")
    except PackageError as fault:
        return _not_shown(str(fault))
    return _guarded(kind, found)


def _guarded(kind: str, part: ShowPart) -> ShowPart:
    """The part of an installed package: what its code raises costs its own kind; the message stands in its place."""
    faults: list[str] = []

    def guard(own: Callable[..., Any], shape: type, instead: Callable[..., Any]) -> Callable[..., Any]:
        """``own``; where it fails, ``instead`` of the message and the same arguments."""

        def call(*arguments: Any) -> Any:
            try:
                found = own(*arguments)
                if not isinstance(found, shape):
                    raise TypeError(f"what it gives is a {type(found).__name__} and no {shape.__name__}")
                return found
            except (Exception, SystemExit) as error:  # whatever the package's code does
                faults.append(str(registry.broken(kind, error)))
                return instead(faults[-1], *arguments)

        return call

    def section(result: Any) -> Section:
        shown = part.section(result)
        for other in (guarded.colours, guarded.alike, guarded.against):
            other(result)
        return replace(shown, items=(*shown.items, *(Words(why, "warning") for why in dict.fromkeys(faults))))

    def plots(several: Sequence[tuple[str, Any]], name: str, simulated: bool) -> list[Plot]:
        if faults:  # what may be overlaid is not known
            return [_message_plot(faults[0], several, name, simulated)]
        drawn = part.plots(several, name, simulated)
        return [replace(one, draw=guard(one.draw, object, _draw_message)) for one in drawn]

    guarded = ShowPart(
        section=guard(section, Section, lambda why, result: _not_shown(why).section(result)),
        plots=guard(plots, list, lambda why, *several: [_message_plot(why, *several)]),
        colours=guard(part.colours, Chromaticities, lambda why, result: Chromaticities(words=(why,))),
        alike=guard(part.alike, str, lambda why, result: why),
        against=guard(part.against, str, lambda why, result: ""),
        brief=guard(part.brief, Brief, lambda why, result: Brief((), (Remark(1.0, why),))),
    )
    return guarded


def _message_plot(why: str, several: Sequence[tuple[str, Any]], name: str, simulated: bool) -> Plot:
    """In place of the plots of a kind whose package can't draw them."""
    return Plot(f"{name}-not-drawn", "Not drawn", why, lambda axes: _draw_message(why, axes), simulated)


def _draw_message(why: str, axes: Axes) -> None:
    axes.items.clear()
    axes.x = axes.y = Axis("", 0.0, 1.0, ticks=())
    axes.plain, axes.scale, axes.equal = True, None, False
    axes.add(Note(textwrap.fill(why, 50), (0.5, 0.5), across="middle", along="middle"))


def _not_shown(why: str) -> ShowPart:
    """In place of a kind whose package can't show it; its figures stand in the summary and in the data all the same."""
    return ShowPart(lambda result: Section(result.block, result.kind, "", (Words(why, "warning"),)))


def is_of_block(path: str, name: str) -> bool:
    """Is a block, or what is absent of one, that of the ``name`` that was typed: with its point of a sweep or without?

    A point by itself names all of its blocks.
    """
    point, _, rest = path.partition("/")
    names = (path, rest) if "=" in point else (path,)
    return any(f"{one}/".startswith(f"{name}/") for one in names)


def shown_blocks(results: Results) -> Iterator[tuple[str, Any]]:
    """Every block with its kind, kind by kind in the order of a report."""
    return ((kind, block) for kind in registry.kinds() for block in results.of(kind))


def judged_by(results: Results) -> str:
    """One line for a report's head and for the data; "" where no figure is held against anything.

    A plan always names an SDR target; with an HDR signal no curve is judged by it, so it is named for what it judges.
    """
    target = results.target
    if not isinstance(results.settings.get("signal"), Mapping):
        return "" if target is None else target_text(target)
    found = [show_part(kind).against(block) for kind, block in shown_blocks(results)]
    return "; ".join(dict.fromkeys(one for one in found if one))
