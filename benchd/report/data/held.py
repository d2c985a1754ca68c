"""What each figure of a document holds for, as one text: for tables and for the library, whose figures meet others'.

And the conditions that the whole log was measured under, as rows of a table.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from benchd.analysis.colour.target import Target
from benchd.analysis.figure_conditions import conditions_text, of_settings, target_text
from benchd.analysis.measurement import result_part
from benchd.measuring_conditions import plain_value
from benchd.report.data.document import Json, with_conditions


def held(document: Json) -> Iterator[tuple[str, Json, str]]:
    """Every quantity of the results of one log with its path and its conditions; "" where it needs none."""
    fields = document["target"]
    target = (("target", target_text(Target(**fields) if fields else None)),)
    of_all = of_settings(document["settings"])
    for path, quantity, above in with_conditions(document):
        aimed = target if _is_aimed(path, document["blocks"]) else ()
        yield path, quantity, conditions_text((*of_all, *aimed, *above))


def condition_rows(document: Json) -> Iterator[Json]:
    """The conditions of measuring as rows of a table: ``value`` holds numbers alone, words stand in ``text``."""
    for key, one in document["conditions"].items():
        value = one["value"]
        is_number = isinstance(value, int | float)
        about = [f"entered {one['when']}"] if one["when"] else [] if value is not None else ["not recorded"]
        about += [f"{other['source']}: {plain_value(other['value'])}" for other in one["others"]]
        about += [f"session {at['session']}: {plain_value(at['value'])}, {at['source']}" for at in one["changes"]]
        yield {
            "path": f"conditions/{key}",
            "value": value if is_number else None,
            "unit": one["unit"],
            "status": "absent" if value is None else "recorded",
            "why": "; ".join([*about, *([one["note"]] if one["note"] else [])]),
            "text": None if is_number else value,
            "source": one["source"] or None,
        }


def _is_aimed(path: str, blocks: Mapping[str, Json]) -> bool:
    """True for a figure that the target decides."""
    parts = path.split("/")
    names = ("/".join(parts[:length]) for length in range(1, len(parts)))
    block = next((blocks[name] for name in names if name in blocks), None)
    return block is not None and not result_part(block["kind"]).aimed.isdisjoint(parts)
