"""A precision in place of a count: the value ``0.5 %``, and what may stand beside it.

``repeatability`` is the relative standard uncertainty of the mean of a patch's readings, from the meter's repeatability
alone (k = 1). It does not include calibration or drift.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema

from benchd.profile.reading.base import Wrong, wrong
from benchd.profile.reading.explain import show

FINEST_PERCENT, COARSEST_PERCENT = 0.01, 10.0
DEFAULT_AT_MOST_S = 60.0

_PERCENT = re.compile(r"([0-9]+(?:\.[0-9]+)?|\.[0-9]+)\s*%\Z")
_HOW = f"write a percentage, {FINEST_PERCENT:g} % to {COARSEST_PERCENT:g} %, such as 0.5 %"


def _repeatability(value: Any) -> str:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        raise wrong(f"repeatability {show(value)}: state what it is a part of; {_HOW}")
    match = _PERCENT.match(value.strip()) if isinstance(value, str) else None
    if match is None:
        raise wrong(f"repeatability {show(value)}: {_HOW}")
    if not FINEST_PERCENT <= float(match[1]) <= COARSEST_PERCENT:
        raise wrong(f"repeatability {show(value)}: use {FINEST_PERCENT:g} % to {COARSEST_PERCENT:g} %")
    return f"{float(match[1]):g} %"


_MEANING = (
    "in place of a count: every patch is read until the relative standard uncertainty of its mean, from the meter's "
    "standard deviation, is this, such as 0.5 %; when it has settled is then found from the readings too"
)
Repeatability = Annotated[
    str,
    BeforeValidator(_repeatability),
    WithJsonSchema({"type": "string", "pattern": r"^\s*([0-9]+(\.[0-9]+)?|\.[0-9]+)\s*%\s*$", "description": _MEANING}),
    Field(description=_MEANING),
]
AtMost = Annotated[
    float,
    Field(ge=1, le=3600, description="seconds that one patch may take with repeatability, settling included"),
]


def fraction(repeatability: str) -> float:
    """``0.5 %`` as 0.005."""
    return float(repeatability.rstrip("% ")) / 100.0


def precision_wrong(plan: Mapping[str, Any]) -> Iterator[Wrong]:
    """Keys that contradict each other in one place, the plan's or a block's; from plain data of any shape."""
    yield from _contradicting(plan)
    blocks = plan.get("blocks")
    for index, block in enumerate(blocks if isinstance(blocks, list) else ()):
        for kind, body in block.items() if isinstance(block, dict) else ():
            if isinstance(body, dict):
                yield from (fault._replace(path=("blocks", index, kind, *fault.path)) for fault in _contradicting(body))


def _contradicting(data: Mapping[str, Any]) -> Iterator[Wrong]:
    if "repeatability" not in data:
        return
    for key in ("readings", "dark_readings"):
        if key in data:
            text = f"give repeatability or {key}, not both: with repeatability there are as many readings as it takes"
            yield Wrong((key,), text, at_key=True)
    for key in ("settle_s", "dark_settle_s"):
        if key in data:
            text = f"with repeatability the readings show when a patch has settled; remove '{key}'"
            yield Wrong((key,), text, at_key=True)
