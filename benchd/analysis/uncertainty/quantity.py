"""A quantity: value or bound, with its unit, the number and standard deviation of its readings, and their records.

All arithmetic goes through `derived`, which takes the sensitivity of the result to each part. One mechanism
gives the direction of a bound (its sign), the standard deviation (its size) and the uncertainty (`sources`: what moves
the result, with signs, so that errors that its parts share cancel by themselves).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Literal, NamedTuple

from benchd.analysis.uncertainty.quotient import Quotient, is_skew, lowest_ratio, reach_of, stated_sum, subtracts
from benchd.analysis.uncertainty.sources import Node, Renamed, Stated, Sum, standard, stated, total

Status = Literal["ok", "unstable", "under", "over", "absent"]
Bound = Literal["above", "below"]
Ranges = tuple[tuple[int, int], ...]

STATUSES: tuple[Status, ...] = ("ok", "unstable", "under", "over", "absent")
"""From best to worst; a derived quantity has the worst status of its parts."""

NOT_COMPUTED = "it can't be computed from these readings"


class Quantity(NamedTuple):
    """One value of a result.

    ``value``    in ``unit``; None when ``status`` is "absent"
    ``unit``     "cd/m2", "1", "%", "K" ...
    ``n``        readings behind the value; for a derived value the smallest n of its parts
    ``s``        sample standard deviation of the readings, in ``unit``; for a derived value the first-order
                 combination of those of its parts, taken as independent. No uncertainty
    ``status``   the worst that the meter reported: ok, unstable, under or over its range; or absent
    ``bound``    None: the value itself. "above": the true value is above ``value``; "below": below it
    ``why``      why it is a bound, absent, or to be read with care
    ``records``  sequence numbers (first, last) of the readings in the log
    ``sources``  what its uncertainty comes from; None where that is not known. Computed only when needed
    ``estimate`` of a bound that was made from readings: their mean, which ``sources`` are about; else None
    """

    value: float | None
    unit: str
    n: int = 0
    s: float | None = None
    status: Status = "ok"
    bound: Bound | None = None
    why: str = ""
    records: Ranges = ()
    sources: Node | None = None
    estimate: float | None = None

    @property
    def present(self) -> bool:
        """True when there is a value or a bound."""
        return self.value is not None

    @property
    def plain(self) -> bool:
        """True when there is a value that is not just a bound."""
        return self.value is not None and self.bound is None

    @property
    def u(self) -> float | None:
        """Combined standard uncertainty in ``unit``; None for a bound and where something is not known."""
        if not self.plain or self.sources is None:
            return None
        found = self.sources.contributions()
        return None if found is None else standard(found)

    @property
    def stated(self) -> Stated | None:
        """The uncertainty as it is published: expanded at 95 %, with k, degrees of freedom and interval.

        k is None where the interval is skew: then its ends are what is published.
        """
        if self.value is None or self.bound is not None or self.sources is None:
            return None
        node = self.sources
        while isinstance(node, Renamed):  # what the sources are called changes no interval
            node = node.node
        own = getattr(node, "stated", None)
        if own is not None or (isinstance(node, Sum) and is_skew(node)):
            given: Stated | None = stated_sum(self.value, node) if own is None else own(self.value)
            return given if given is None or math.isfinite(given.expanded) else None
        if (found := node.contributions()) is None:
            return None
        # Light is never negative; a difference of lights may be.
        light = self.unit == "cd/m2" and self.value >= 0.0 and not subtracts(node)
        return stated(self.value, found, lowest=0.0 if light else -math.inf)

    @property
    def interval(self) -> tuple[float, float] | None:
        """Both ends of the interval that holds the truth with 95 %, in ``unit``."""
        found = self.stated
        return None if found is None else (found.low, found.high)


def relabelled(quantity: Quantity, prefix: str, display: str = "") -> Quantity:
    """The same quantity with the log's own sources named apart: put quantities of two logs together only so.

    Sources of the meter keep their names: what one meter does wrong in both logs cancels in a comparison. ``display``
    is the prefix of what only logs of one display share; left out: nothing.
    """
    node = quantity.sources
    return quantity if node is None else quantity._replace(sources=Renamed(node, prefix, display))


def absent(unit: str, why: str, records: Ranges = ()) -> Quantity:
    """No value, and the reason for that."""
    return Quantity(None, unit, status="absent", why=why, records=records)


def with_note(quantity: Quantity, note: str) -> Quantity:
    """The same quantity with ``note`` added to its ``why``."""
    return quantity._replace(why=_joined((quantity.why, note)))


def derived(value: float, unit: str, parts: Sequence[tuple[float, Quantity]], why: str = "") -> Quantity:
    """``value`` made from ``parts``, each a pair (sensitivity of the value to it, the part).

    The function behind ``value`` must be monotone in each part that is a bound, with the sign of the
    sensitivity. Bounds that push the same way give a bound; bounds that push against each other, or a part
    that is absent, give an absent result with a reason.
    """
    result = _combined(value, unit, [part for _, part in parts], why, parts)
    pushes = {_push(sensitivity, part) for sensitivity, part in parts} - {0}
    if not pushes or not result.present:
        return result
    if len(pushes) > 1:
        notes = _joined(("made from bounds that point in opposite directions", result.why))
        return absent(unit, notes, result.records)
    bound: Bound = "above" if pushes.pop() > 0 else "below"
    # What the other parts may be off by counts too: a bound that stood on their values alone would be too sure.
    below, above = reach_of(total([(by, part.sources) for by, part in parts if part.bound is None]))
    end = value - below if bound == "above" else value + above
    return result._replace(value=end, s=None, bound=bound, sources=None, estimate=None)


def composed(
    value: float, unit: str, parts: Iterable[Quantity], why: str = "", sources: Node | None = None
) -> Quantity:
    """``value`` made from ``parts`` by a function that is not monotone, such as a colour difference.

    It needs values: a part that is a bound makes the result absent. No standard deviation is stated; the uncertainty is
    that of ``sources``, which the caller knows how to make (`benchd.analysis.uncertainty.cloud` for distances).
    """
    quantities = list(parts)
    if bound := next((part for part in quantities if part.bound), None):
        return absent(unit, bound.why, merged(one.records for one in quantities))
    result = _combined(value, unit, quantities, why)
    return result if sources is None or not result.present else result._replace(sources=sources)


def composed_each(
    values: Iterable[float], unit: str, parts: Iterable[Quantity], sources: Sequence[Node | None] | None = None
) -> list[Quantity]:
    """`composed` of each of ``values``, all made from the same ``parts``: what they share is found once."""
    several, shared = list(values), composed(0.0, unit, parts)
    if not shared.present:
        return [shared for _ in several]
    n, status, why, records = shared.n, shared.status, shared.why, shared.records
    return [
        Quantity(value, unit, n, None, status, None, why, records, node)
        if math.isfinite(value)
        else absent(unit, NOT_COMPUTED, records)
        for value, node in zip(several, sources or [None] * len(several), strict=True)
    ]


def _combined(
    value: float, unit: str, quantities: Sequence[Quantity], why: str, parts: Sequence[tuple[float, Quantity]] = ()
) -> Quantity:
    """``value`` with what it takes over from ``quantities``, and the standard deviation that follows from ``parts``.

    Called for every figure of every step: one pass, and nothing is made that is not kept.
    """
    records, notes = merged([part.records for part in quantities]), [why]
    n = quantities[0].n if quantities else 0
    status: Status = "ok"
    for part in quantities:
        if part.value is None:
            return absent(unit, _joined([one.why for one in quantities if one.value is None]), records)
        n = min(n, part.n)
        if part.status != "ok":
            status = worst((status, part.status))
        if part.why:
            notes.insert(-1, part.why)
    if not math.isfinite(value):
        return absent(unit, NOT_COMPUTED, records)
    s, sources = None, None
    if parts:
        s, sources = _standard_deviation(parts), total([(sensitivity, part.sources) for sensitivity, part in parts])
    return Quantity(value, unit, n, s, status, None, _joined(notes) if len(notes) > 1 else why, records, sources)


def propagated(
    function: Callable[..., float], unit: str, parts: Sequence[Quantity], why: str = "", *, uncertain: bool = True
) -> Quantity:
    """``function`` of the values of ``parts``, by central differences; monotone in each bound (see `derived`).

    Not ``uncertain``: neither standard deviation nor uncertainty is stated, and only parts that are bounds are varied.
    """
    known = [part.value for part in parts if part.value is not None]
    if len(known) < len(parts):
        return derived(0.0, unit, [(0.0, part) for part in parts], why)

    def at(index: int, step: float) -> float:
        return _number(function, [*known[:index], known[index] + step, *known[index + 1 :]])

    pairs = []
    for index, part in enumerate(parts):
        # A millionth of the value: far above rounding, far below any curvature that the noise could reach.
        step = 1e-6 * abs(known[index]) if uncertain or part.bound is not None else 0.0
        slope = (at(index, step) - at(index, -step)) / (2.0 * step) if step else 0.0
        pairs.append((slope, part))
    result = derived(_number(function, known), unit, pairs, why)
    return result if uncertain else result._replace(s=None, sources=None)


def _number(function: Callable[..., float], values: Sequence[float]) -> float:
    """The function's value; NaN where it has none."""
    try:
        return function(*values)
    except (ValueError, ZeroDivisionError, OverflowError):
        return math.nan


def ratio(top: Quantity, bottom: Quantity, unit: str = "1") -> Quantity:
    """``top / bottom`` of quantities that can't be negative, with the interval of `uncertainty.quotient`.

    Over a ``below`` bound, and over a divisor whose 95 % interval reaches zero: an ``above`` bound.
    """
    if top.value is None or bottom.value is None:
        return derived(0.0, unit, ((0.0, top), (0.0, bottom)))
    if bottom.value <= 0.0:
        why = _joined((bottom.why, "the divisor is not above zero"))
        return absent(unit, why, merged((top.records, bottom.records)))
    value = top.value / bottom.value
    result = derived(value, unit, ((1.0 / bottom.value, top), (-value / bottom.value, bottom)))
    if not result.present:
        return result
    if not top.plain:
        end = (bottom.interval or (0.0, 0.0))[top.bound == "above"]  # exact where to first order it would not be
        return result._replace(value=top.value / end) if end > 0.0 else result
    if bottom.estimate is not None and bottom.bound == "below":
        lowest = lowest_ratio(top.value, top.sources, max(bottom.estimate, 0.0), bottom.sources)
        return result._replace(value=min(value, lowest))
    if not bottom.plain or top.sources is None or bottom.sources is None:
        return result
    node = Quotient(top.sources, bottom.sources, top.value, bottom.value)
    if _badly_known(bottom):
        found = node.stated(value)
        if found is not None and math.isinf(found.high):
            why = _joined((result.why, "the 95 % coverage interval of the divisor reaches zero"))
            return Quantity(found.low, unit, result.n, None, result.status, "above", why, result.records)
    return result._replace(sources=node)


def _badly_known(bottom: Quantity) -> bool:
    """True where the divisor's interval must be looked at. That is not free, and most are whites of little noise."""
    value = bottom.value or 0.0
    return bottom.unit != "cd/m2" or value < 1.0 or bottom.s is None or bottom.s > 0.05 * value


def product(first: Quantity, second: Quantity, unit: str) -> Quantity:
    """``first * second`` of two quantities that can't be negative."""
    a, b = first.value or 0.0, second.value or 0.0
    return derived(a * b, unit, ((b, first), (a, second)))


def difference(first: Quantity, second: Quantity) -> Quantity:
    """``first - second`` in the unit of the first."""
    return derived((first.value or 0.0) - (second.value or 0.0), first.unit, ((1.0, first), (-1.0, second)))


def scaled(quantity: Quantity, factor: float, unit: str, offset: float = 0.0) -> Quantity:
    """``factor * quantity + offset`` with exact ``factor`` and ``offset``; a negative factor turns bounds."""
    return derived(factor * (quantity.value or 0.0) + offset, unit, ((factor, quantity),))


def log(quantity: Quantity) -> Quantity:
    """Natural logarithm; absent where the value or bound is not above zero."""
    if quantity.value is None or quantity.value <= 0.0:
        why = "" if quantity.value is None else "no logarithm: it is not above zero"
        return absent("1", _joined((quantity.why, why)), quantity.records)
    return derived(math.log(quantity.value), "1", ((1.0 / quantity.value, quantity),))


def mean(quantities: Sequence[Quantity], unit: str) -> Quantity:
    """Arithmetic mean, all parts of equal weight."""
    if not quantities:
        return absent(unit, "nothing was measured")
    share = 1.0 / len(quantities)
    total = math.fsum(quantity.value or 0.0 for quantity in quantities)
    return derived(total * share, unit, [(share, quantity) for quantity in quantities])


def maximum(quantities: Sequence[Quantity], unit: str) -> Quantity:
    """The largest. Where only its two ends are known, the lower end is kept, as an ``above`` bound."""
    return _extreme(quantities, unit, largest=True)


def minimum(quantities: Sequence[Quantity], unit: str) -> Quantity:
    """The smallest. Where only its two ends are known, the upper end is kept, as a ``below`` bound."""
    return _extreme(quantities, unit, largest=False)


def _extreme(quantities: Sequence[Quantity], unit: str, *, largest: bool) -> Quantity:
    """Interval logic, written for the largest; the smallest is its mirror image."""
    records = merged(quantity.records for quantity in quantities)
    missing = [quantity.why for quantity in quantities if not quantity.present]
    if missing or not quantities:
        return absent(unit, _joined(missing) or "nothing was measured", records)
    sign = 1.0 if largest else -1.0
    inward: Bound = "above" if largest else "below"

    def outer(quantity: Quantity) -> float:
        assert quantity.value is not None
        return sign * quantity.value

    # Parts that are at least their value; the others are only known not to reach beyond it.
    firm = [quantity for quantity in quantities if quantity.bound in (None, inward)]
    loose = [quantity for quantity in quantities if quantity.bound not in (None, inward)]
    top = max(firm or loose, key=outer)
    bound = top.bound
    if firm and (
        any(quantity.bound == inward for quantity in firm) or any(outer(quantity) > outer(top) for quantity in loose)
    ):
        bound = inward
    status = worst(quantity.status for quantity in quantities) if bound else top.status
    why = _joined(quantity.why for quantity in quantities if quantity is top or (bound and quantity.bound))
    s, sources = (None, None) if bound else (top.s, top.sources)
    return Quantity(top.value, unit, top.n, s, status, bound, why, records, sources)


def worst(statuses: Iterable[Status]) -> Status:
    """The worst of several statuses; "ok" when there is none."""
    found = set(statuses)
    return max(found, key=STATUSES.index) if found - {"ok"} else "ok"


def merged(several: Iterable[Ranges]) -> Ranges:
    """Union of ranges of sequence numbers, sorted, adjoining ones joined."""
    distinct: list[Ranges] = []
    for one in several:
        if one and not (distinct and one is distinct[-1]):  # most figures are made of several figures of one step
            distinct.append(one)
    if len(distinct) == 1 and len(distinct[0]) == 1:
        return distinct[0]
    joined: list[tuple[int, int]] = []
    for first, last in sorted({pair for one in distinct for pair in one}):
        if joined and first <= joined[-1][1] + 1:
            joined[-1] = (joined[-1][0], max(last, joined[-1][1]))
        else:
            joined.append((first, last))
    return tuple(joined)


def _push(sensitivity: float, part: Quantity) -> int:
    """+1 where the bound of ``part`` moves the result up, -1 down, 0 not at all."""
    if part.bound is None or sensitivity == 0.0:
        return 0
    return 1 if (part.bound == "above") == (sensitivity > 0.0) else -1


def _standard_deviation(parts: Sequence[tuple[float, Quantity]]) -> float | None:
    """First-order standard deviation of the result from those of its independent parts; None where one has none."""
    squares = [(sensitivity * part.s) ** 2 for sensitivity, part in parts if part.s is not None]
    total = sum(squares, 0.0)
    return math.sqrt(total) if len(squares) == len(parts) and math.isfinite(total) else None


def _joined(texts: Iterable[str]) -> str:
    """Distinct notes, in order, as one."""
    return "; ".join(dict.fromkeys([text for text in texts if text]))
