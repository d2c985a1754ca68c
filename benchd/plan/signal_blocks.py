"""Which kinds of block a plan with a signal may have, and what needs a signal: found in the plain data of a plan."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Literal

from benchd.errors import PackageError
from benchd.measurements import registry
from benchd.profile.reading.base import Wrong, items_of

SignalRule = Literal["sdr", "full range", "any", "needed"]
"""May a plan with a signal have a kind of block: not, on a scale of the full range, always, or only such a plan?"""


def signal_wrong(data: Mapping[str, Any]) -> Iterable[Wrong]:
    """What does not fit together between a plan's signal, bits and blocks, from the plain data of the plan."""
    signal = data.get("signal")
    if isinstance(signal, dict) and "bits" in data and data["bits"] != signal.get("bits", 10):
        yield Wrong(("bits",), "with a signal, its bits are those of the codes: state it there, or remove it", True)
    narrow = isinstance(signal, dict) and signal.get("range") == "narrow"
    if narrow and "reference" in data:
        yield Wrong(("reference",), "a reference is a percent of the largest code: not on a narrow range", True)
    for index, block in enumerate(items_of(data.get("blocks"))):
        for kind, body in block.items() if isinstance(block, dict) else ():
            where = ("blocks", index, kind)
            rule = _rule(kind)
            if rule is None:
                continue
            if signal is None:
                if rule == "needed":
                    yield Wrong(where, f"'{kind}' needs the scale of the codes: signal: {{transfer: pq}}", True)
                elif isinstance(body, dict) and "level_cd_m2" in body and rule == "any":
                    yield Wrong((*where, "level_cd_m2"), "a level in cd/m2 needs signal: {transfer: pq}", True)
                for number, item in enumerate(items_of(body.get("list")) if isinstance(body, dict) else ()):
                    if isinstance(item, dict) and "level_cd_m2" in item:
                        text = "a level in cd/m2 needs signal: {transfer: pq}"
                        yield Wrong((*where, "list", number, "level_cd_m2"), text, True)
            elif narrow and rule == "full range":
                yield Wrong(
                    where, f"'{kind}' shows codes outside the narrow range; use range: full, or 'patches'", True
                )
            elif rule == "sdr":
                yield Wrong(where, f"'{kind}' is held against an SDR target; take it out of a plan with a signal", True)


def _rule(kind: str) -> SignalRule | None:
    """The rule of a kind; None where it can't be used, which is told elsewhere."""
    try:
        found: SignalRule = registry.part(kind, "plan").signal
    except PackageError:
        return None
    return found
