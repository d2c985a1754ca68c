"""The answer first: what a log comes to, as data for one screen of a terminal and for the opening of a page.

One line a block in the order of the plan, or the figures that the plan names as its ``headline``; of a sweep one line a
point. What must not be missed, what stands out by the rules of `benchd.report.stands_out`, and how the run went.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import zip_longest
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

from benchd.analysis.catalogue import at_point, of_points, point_words
from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.measurement import result_part
from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import absent
from benchd.local_time import local_time
from benchd.measurements.declared_figure import plain_name
from benchd.report.brief import Brief, BriefFigure, BriefLine, brief_of_figures, lines_of_figures, white_notes
from benchd.report.measurement import show_part
from benchd.report.sections.basis import basis_words
from benchd.report.sections.conditions import invalidation_words
from benchd.report.sections.recorded import changed_conditions
from benchd.report.stands_out import DRIFT_PERCENT, Remark, foremost, over
from benchd.report.words import SIMULATED, count, duration, printable, readings_words

if TYPE_CHECKING:
    from benchd.analysis.results_log import Sweep


class BlockLines(NamedTuple):
    """The lines of one block, or of the figures that the plan names, whose ``block`` is ""."""

    block: str
    lines: tuple[BriefLine, ...]


class Summary(NamedTuple):
    """What a log comes to.

    ``head``        sample; plan and its state; when it began, in local time; the meter and what is stated of it; on how
                    many units and placements the figures rest
    ``warnings``    what must not be missed, most important first
    ``blocks``      lines of each block in the order of the plan; none of a sweep
    ``sweep``       the points; ``columns``: names of its figures, those first that a plan names or that speak for a
                    block that has none before, which are ``needed`` in number
    ``notes``       without which lines would be misread, each once
    ``stands_out``  what does, the farthest beyond its threshold first
    ``run``         readings, duration, faults; what the meter was corrected by: a sentence each
    ``block``       name of a block that there is more to see of, of a sweep without its point
    ``goes_on``     may the log be gone on with?
    """

    simulated: bool
    head: tuple[str, ...]
    warnings: tuple[str, ...]
    blocks: tuple[BlockLines, ...]
    sweep: Sweep | None
    columns: tuple[str, ...]
    needed: int
    notes: tuple[str, ...]
    stands_out: tuple[str, ...]
    run: tuple[str, ...]
    block: str
    goes_on: bool = False


def summary_of(results: Results, briefs: Mapping[str, Brief] = MappingProxyType({})) -> Summary:
    """Of the results of one log. ``briefs``: the `own_brief` of blocks, where it is known."""
    found = [(name, _brief(results, one, briefs.get(name))) for name, one in results.blocks.items()]
    blocks: tuple[BlockLines, ...] = ()
    if results.sweep is None:
        wanted = _wanted(results)
        lines = [BlockLines(name, brief.lines or _none(results, name)) for name, brief in found]
        lost = dict.fromkeys(one.result for one in results.absent if "/" not in one.result)
        lines += [BlockLines(name, _none(results, name)) for name in lost if name not in results.blocks]
        blocks = (BlockLines("", wanted),) if wanted else _told_apart(results, lines)
    rounds = list(_rounds(results))
    notes = [line.note for block in blocks for line in block.lines]
    if results.sweep and rounds:
        known = of_points(results.sweep.rows)
        notes = white_notes([known[name] for name in rounds[0] if name in known])
    return Summary(
        simulated=results.simulated,
        head=head_of(results),
        warnings=tuple(_warnings(results)),
        blocks=blocks,
        sweep=results.sweep,
        columns=tuple(name for each in rounds for name in each),
        needed=len(rounds[0]) if rounds else 0,
        notes=tuple(dict.fromkeys(filter(None, notes))),
        stands_out=_stand_out(results, found),
        run=tuple(_run(results)),
        block=next((name.rpartition("/")[2] for name in reversed(list(results.blocks))), ""),
        goes_on=results.interrupted and not results.imported,
    )


def what_stands_out(results: Results, briefs: Mapping[str, Brief] = MappingProxyType({})) -> tuple[str, ...]:
    """By the rules of `benchd.report.stands_out`, the farthest beyond its threshold first; nothing is left out."""
    return _stand_out(results, [(name, briefs.get(name) or own_brief(one)) for name, one in results.blocks.items()])


def _stand_out(results: Results, found: Sequence[tuple[str, Brief]]) -> tuple[str, ...]:
    return tuple(foremost((*_of_run(results), *_remarks(results, found))))


def own_brief(block: Any) -> Brief:
    """What a block says of itself; its lines may be empty. The intervals of its figures are known then."""
    brief = show_part(block.kind).brief(block)
    for line in brief.lines:
        for one in (line.figure, *line.also):
            _ = isinstance(one, BriefFigure) and one.quantity.interval
    return brief


def _brief(results: Results, block: Any, known: Brief | None) -> Brief:
    """Of one block: its own, or one made from its declared figures."""
    own = known or own_brief(block)
    if own.lines:
        return own
    made = brief_of_figures(result_part(block.kind).figures(block, results.target))
    return made._replace(remarks=own.remarks)


def _none(results: Results, name: str) -> tuple[BriefLine, ...]:
    """Of a block that has no figure, or that can't be read here: why."""
    why = next((one.why for one in results.absent if one.result == name), "it has no figure")
    return (BriefLine(name, BriefFigure(absent("1", why), "")),)


def _told_apart(results: Results, several: Iterable[BlockLines]) -> tuple[BlockLines, ...]:
    """Lines of one name have that of their block behind it: "gamma, evening"."""
    blocks = list(several)
    times = Counter(line.name for block in blocks for line in block.lines)

    def named(block: str, line: BriefLine) -> BriefLine:
        if times[line.name] < 2:
            return line
        own = block.removeprefix(f"{results.blocks[block].kind}-") if block in results.blocks else block
        return line._replace(name=f"{line.name}, {own}")

    return tuple(BlockLines(one.block, tuple(named(one.block, line) for line in one.lines)) for one in blocks)


def headline_names(results: Results) -> tuple[str, ...]:
    """The figures that the plan names, by their plain names."""
    written = results.settings.get("headline")
    return tuple(map(str, written)) if isinstance(written, list | tuple) else ()


def _wanted(results: Results) -> tuple[BriefLine, ...]:
    """A line for each figure that the plan names; one that no block gave says so."""
    names = headline_names(results)
    if not names:
        return ()
    known = at_point(results.blocks.values(), results.target)
    found = {written: _named(known, written) for written in names}
    drawn = iter(lines_of_figures([known[name] for own in found.values() for name in own]))
    return tuple(
        line for written, own in found.items() for line in ([next(drawn) for _ in own] or [_not_there(written)])
    )


def _named(known: Mapping[str, Figure], written: str) -> list[str]:
    """The names of the figures that a plan means: of all lists of colours, and those of further blocks too."""
    from benchd.analysis.verdicts.claimed_figures import claimed_names  # for a plan that names some

    plain = {name: name.removesuffix(f" ({one.block.rpartition('/')[2]})") for name, one in known.items()}
    meant = claimed_names(written, dict.fromkeys(plain.values()))
    return [name for wanted in meant for name, own in plain.items() if own == wanted]


def _not_there(name: str) -> BriefLine:
    return BriefLine(plain_name(name), BriefFigure(absent("1", "no block of the plan measured it"), ""))


def _rounds(results: Results) -> Iterator[list[str]]:
    """Names of a sweep's figures: as the plan names them, or the first one of each block, then their second ones."""
    if results.sweep is None:
        return
    known = of_points(results.sweep.rows)
    if names := headline_names(results):
        yield [name for written in names for name in _named(known, written)]
        return
    own: dict[str, list[str]] = {name.rpartition("/")[2]: [] for name in results.blocks}
    for name, one in sorted(known.items(), key=lambda item: item[1].rank):
        own[one.block.rpartition("/")[2]].append(name)
    for several in zip_longest(*own.values()):
        yield [name for name in several if name]


def head_of(results: Results) -> tuple[str, ...]:
    """Sample, plan and state, moment, meter, and on how much it rests."""
    state = "complete"
    if results.interrupted or results.skipped:
        how = "NOT ENDED" if results.interrupted else "POINTS SKIPPED"
        state = f"{how} ({results.steps_done} of {count(results.steps_planned, 'step')})"
    meter = f"{results.meter.get('model', '')} {results.meter.get('serial_number', '')}".strip()
    stated = "stated" if results.meter_is_stated else "NOT stated"
    return (
        printable(results.sample) or "sample not named",
        f"{printable(results.plan)}, {state}",
        local_time(results.started),
        f"meter {printable(meter) or 'not named'}, uncertainty {stated}",
        basis_words(results),
    )


def _warnings(results: Results) -> Iterator[str]:
    """What must not be missed."""
    yield from invalidation_words(results)
    if not results.meter_is_stated:
        yield "meter uncertainty not stated: ± is of the readings' standard deviation alone"
    if results.sweep:
        known = of_points(results.sweep.rows)
        if lost := [written for written in headline_names(results) if not _named(known, written)]:
            yield f"no block of the plan measured {plain_name(', '.join(lost))}"
    if results.absent:
        first, several = results.absent[0], len(results.absent)
        said = f"{several} results absent, such as" if several > 1 else "absent:"
        yield f"{said} {first.result}: {first.why}"
    yield from changed_conditions(results)
    if results.imported:
        yield f"readings imported from {printable(results.imported)}, not taken by benchd"
    for warm_up in (results.warm_up, *results.later_warm_ups):
        if warm_up and not warm_up.stable:
            after = "" if warm_up.minutes is None else f" after {warm_up.minutes:.0f} min"
            yield f"the warm-up was NOT stable{after}: figures may drift"
            break
    if results.precision and (short := len(results.precision.short)):
        of = count(results.precision.steps, "patch", "patches")
        yield f"the repeatability asked for was NOT reached by {short} of {of}"
    for text in results.sweep.not_restored if results.sweep else ():
        yield f"the display was not left as it was found: {text}"


def _of_run(results: Results) -> Iterator[Remark]:
    """Of the whole log: the drift of its reference patch."""
    for one in results.drift:
        if excess := over(one.maximum_change, DRIFT_PERCENT):
            value = one.maximum_change.value or 0.0
            yield Remark(excess, f"the reference patch changed by {value:+.1f} % while the log ran")


def _remarks(results: Results, found: Iterable[tuple[str, Brief]]) -> Iterator[Remark]:
    """Of each block; of a sweep's points the farthest of each block, at which point, and at how many it is so."""
    if results.sweep is None:
        yield from (remark for _, brief in found for remark in brief.remarks)
        return
    points = {row.point: point_words(row) for row in results.sweep.rows}
    most: dict[str, tuple[Remark, str]] = {}
    said: dict[tuple[str, str], list[str]] = {}  # what is said of a block, at each point where it is so
    for name, brief in found:
        point, _, block = name.partition("/")
        for same, text in {remark.same: remark.text for remark in brief.remarks}.items():
            said.setdefault((block, same), []).append(text)
        for remark in sorted(brief.remarks)[-1:]:
            if block not in most or most[block][0].excess < remark.excess:
                most[block] = remark, points.get(point, point)
    for block, (remark, point) in most.items():
        texts = said[block, remark.same]
        often = "every point" if len(texts) == len(points) else f"{len(texts)} of {len(points)} points"
        farthest = f", farthest at {point}" if len(set(texts)) > 1 else ""
        yield Remark(remark.excess, f"{remark.text} (at {f'{often}{farthest}' if len(texts) > 1 else point})")


def _run(results: Results) -> Iterator[str]:
    """``396 readings (13 of the warm-up) in 28 min, no faults.``, and what the meter was corrected by."""
    lasted = "" if results.imported or not results.bench_s else f" in {duration(results.bench_s)}"
    lasted += " (virtual time)" if lasted and results.virtual_time else ""
    sessions = f", {count(results.sessions, 'session')}" if results.sessions > 1 else ""
    faults = count(results.faults, "fault") if results.faults else "no faults"
    of_warm_up = results.warm_up.luminance.n if results.warm_up else 0
    yield f"{readings_words(results.readings, of_warm_up)}{lasted}{sessions}, {faults}."
    if isinstance(correction := results.meter.get("correction"), Mapping):
        mark = f" ({SIMULATED})" if correction.get("simulated") else ""
        yield f"Meter corrected by {printable(str(correction['name']))}{mark}."
