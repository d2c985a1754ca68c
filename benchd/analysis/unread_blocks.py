"""What a log lacks, and why: blocks that can't be read here, such as those of a package that is not installed, and
points of its sweep that the operator skipped.
"""

from __future__ import annotations

from collections.abc import Iterable


def unread_text(absent: Iterable[tuple[str, str]], blocks: Iterable[str]) -> str:
    """``contrast: it is of ..., which is not installed``; "" where every block is read.

    ``absent``: what results lack, by its path, and why. What belongs to one of the ``blocks`` that were read is not
    meant.
    """
    known = tuple(blocks)
    reasons: dict[str, list[str]] = {}
    for result, why in absent:
        if not any(result == name or result.startswith(f"{name}/") for name in known):
            reasons.setdefault(why, []).append(result)
    return "; ".join(f"{_listed(results)}: {why}" for why, results in reasons.items())


def _listed(results: list[str]) -> str:
    """``contrast``, or ``contrast and 3 more``."""
    return results[0] if len(results) == 1 else f"{results[0]} and {len(results) - 1} more"
