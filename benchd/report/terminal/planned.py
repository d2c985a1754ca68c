"""A plan before it runs: how many steps, readings and moves, how long, and every step where that is asked."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

from benchd.measuring_conditions import plain_value
from benchd.report.terminal.text_page import Page
from benchd.report.words import SIMULATED, caution_text, columns, count, duration, span, wrapped

if TYPE_CHECKING:
    from benchd.plan.estimate import Estimate
    from benchd.plan.run_order import Before
    from benchd.plan.step import Step


def render_plan(
    estimate: Estimate,
    *,
    plan: str,
    bench: str,
    simulated: bool = False,
    cautions: Sequence[str] = (),
    steps: Sequence[Step] = (),
    before: Sequence[Before] = (),
    set_manually: Collection[str] = (),
    width: int = 100,
    colour: bool = False,
) -> str:
    """The summary; with ``steps`` also every step, and before it what is moved and set.

    ``plan`` and ``bench`` are names; ``steps`` and ``before`` are in the order of the run (`benchd.plan.run_order`);
    ``set_manually``: the controls that only the operator can set.
    """
    page = Page(width, colour)
    mark = f" ({SIMULATED})" if simulated else ""
    lines = page.prose(f"Plan {plan}{f' on bench {bench}' if bench else ''}{mark}: {_amount(estimate)}", "")
    lines += _times(estimate, page.width)
    if estimate.operator_s:
        where = "" if estimate.manual_settings else f" ({', '.join(estimate.manual_blocks)})"
        lines += page.prose(f"the operator is needed for about {duration(estimate.operator_s)} of it{where}")
    for caution in cautions:
        lines += page.warning(caution_text(caution), "")
    if steps:
        lines += ["", *_every(steps, before, bool(estimate.manual_blocks), set_manually)]
    return "\n".join(lines) + "\n"


def patch_words(step: Step) -> str:
    """Its patch in words: ``field 128``, ``window 10 %, 255 0 0 on 0``, ``checkerboard 4 x 4, 255 and 0``."""
    patch = step.patch
    code, surround = _code(patch.code), _code(patch.surround)
    depth = "" if patch.bits == 8 else f", {patch.bits} bits"
    depth += "" if patch.transfer == "sdr" else f" {patch.transfer.upper()}"
    if patch.kind == "field":
        return f"field {code}{depth}"
    if patch.kind == "checkerboard":
        inverse = " inverse" if patch.inverse else ""
        return f"checkerboard{inverse} {patch.columns} x {patch.rows}, {code} and {surround}{depth}"
    where = f" at {patch.at[0]:.3g}, {patch.at[1]:.3g}" if patch.kind == "spot" else ""
    return f"{patch.kind} {patch.area_percent:g} %{where}, {code} on {surround}{depth}"


def _code(code: tuple[int, int, int]) -> str:
    return str(code[0]) if len(set(code)) == 1 else " ".join(str(channel) for channel in code)


def _amount(estimate: Estimate) -> str:
    amounts = [count(estimate.steps, "step"), count(estimate.readings, "reading")]
    if estimate.moves:
        who = "by the operator" if estimate.manual_blocks else "by the mover"
        amounts.append(f"{count(estimate.moves, 'move')} of the meter {who}")
    if estimate.manual_settings:
        amounts.append(f"{count(estimate.manual_settings, 'setting')} of the display by the operator")
    return ", ".join(amounts)


def _times(estimate: Estimate, width: int) -> list[str]:
    warm_up = _warm_up(estimate)
    rows = [("warm-up", "", "", "", warm_up)]
    for block in estimate.blocks:
        moves = count(block.moves, "move") if block.moves else ""
        amounts = (count(block.steps, "step"), count(block.readings, "reading"), moves)
        rows.append((block.name, *amounts, duration(block.seconds)))
    rows.append(("total", "", "", "", span(estimate.minimum_s, estimate.maximum_s)))
    first, *lines = [f"  {row}" for row in columns(rows, left=(0, 4))]
    begin = first.removesuffix(warm_up)
    if width - len(begin) < LEAST_BESIDE:  # the table stays as it is, and the sentence begins nearer
        begin = "  warm-up  "
    return [*wrapped(warm_up, width, begin, " " * len(begin)), *lines]


LEAST_BESIDE = 30
"""So many signs must have room beside the table's first columns for the sentence on the warm-up."""


def _warm_up(estimate: Estimate) -> str:
    minimum_s, maximum_s = estimate.warm_up_minimum_s, estimate.warm_up_maximum_s
    if not maximum_s:
        return "none"
    how_long = duration(maximum_s) if minimum_s == maximum_s else f"until stable, {span(minimum_s, maximum_s)}"
    if estimate.consecutive_s:
        how_long += f", then consecutive readings, {duration(estimate.consecutive_s)}"
    return f"{how_long}; readings not counted"


def _every(
    steps: Sequence[Step], before: Sequence[Before], manual_moves: bool, set_manually: Collection[str]
) -> list[str]:
    """One line a step, numbered from 1, and a line for each setting and each move, in the order of the run."""
    from benchd.plan.offset_readings import (  # a plan was read when there are steps, so nothing is imported anew
        BACK,
        SENTENCES,
    )

    rows = [("", "step", "patch", "place", "readings", "settle", "")]
    for index, step in enumerate(steps, start=1):
        warm_up = step.kind == "warm_up"
        readings = "until stable" if warm_up else str(step.readings)
        settle = "" if warm_up else f"{step.settle_s:g} s" if step.series is None else f"{step.series.for_s:g} s long"
        dark = "dark" if step.dark else ""
        rows.append((str(index), step.id, patch_words(step), step.place, readings, settle, dark))
    head, *body = columns(rows, left=(1, 2, 3, 6))
    lines = [f"  {head}"]
    who = "the operator moves the meter to" if manual_moves else "the mover goes to"
    if manual_moves and not before[0].moved:
        lines.append("  -- the meter stands at the centre of the screen when the run begins")
    for index, (step, line) in enumerate(zip(steps, body, strict=True)):
        for name, value in before[index].settings:
            setting = f"the operator sets {name} to" if name in set_manually else f"{name} is set to"
            lines.append(f"  -- {setting} {plain_value(value)}")
        if before[index].moved:
            x, y = step.at
            where = f"{who} {step.place} ({100 * x:.4g} % of the width, {100 * y:.4g} % of the height)"
            back = BACK.get(steps[index - 1].place, "") if index else ""
            lines.append(f"  -- {SENTENCES.get(back) or SENTENCES.get(step.place, where)}")
        lines.append(f"  {line}")
    return lines
