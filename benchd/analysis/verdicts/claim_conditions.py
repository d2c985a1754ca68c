"""The conditions of a maker's claim against what the log holds of them: met, differs, in doubt, or not recorded.

What a log can hold: its recorded conditions (`benchd.measuring_conditions`), what the figure itself holds for
(`benchd.analysis.figure_conditions`), settings of a sweep's point, what the operator noted, the signal, the window, the
warm-up. A condition in other words is not recorded: it is not guessed at.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.log.conditions_log import RecordedCondition
from benchd.analysis.results import Results
from benchd.analysis.sweep_points import same_setting
from benchd.measuring_conditions import CONDITIONS, Value, contradictions

State = Literal["met", "differs", "in doubt", "not recorded"]
"""In doubt: what counts would meet it, and was given otherwise than a part of the bench had it."""


@dataclass(frozen=True, slots=True)
class Condition:
    """One condition in the maker's words; ``found``: what the log holds instead, or in its favour; "" if nothing."""

    text: str
    state: State
    found: str = ""


_NAMED = re.compile(r"(?P<name>[^\W\d][\w ./-]*?)\s*(?:[=:]\s*|\s)(?P<value>[\w.+-]+)\s*(?P<percent>%?)\Z")
_WINDOW = re.compile(
    r"(?:(?P<size>[0-9]+(?:\.[0-9]+)?)\s*% (?:window|patch|area)|(?:window|patch) of (?P<of>[0-9]+(?:\.[0-9]+)?)\s*%"
    r"|full (?:screen|field))\Z",
    re.IGNORECASE,
)
_SIGNAL = re.compile(r"(?P<signal>sdr|hdr|pq|hlg)(?: (?:signal|mode|on))?\Z", re.IGNORECASE)
_WARM_UP = re.compile(
    r"(?:after )?(?:(?P<before>[0-9]+) ?min(?:utes)?(?: of)? )?(?:warm[- ]?up|warmed up)"
    r"(?: (?:done|of (?P<after>[0-9]+) ?min(?:utes)?))?\Z",
    re.IGNORECASE,
)
_IN_NAME = re.compile(r" of an? ([0-9.]+) % window")
_IN_PATCH = re.compile(r"([0-9.]+) %(?: window|\Z)")


def conditions_of(text: str, log: Results, headline: Figure) -> tuple[Condition, ...]:
    """Each condition in ``text`` (commas between them) against the log that has ``headline``."""
    return tuple(_one(piece, log, headline) for piece in _pieces(text))


def other_conditions(text: str, log: Results, headline: Figure) -> str:
    """What the log holds instead of those conditions in ``text`` that differ; "" where none does."""
    found = conditions_of(text, log, headline)
    return "; ".join(f"{one.found}, the claim is for {one.text}" for one in found if one.state == "differs")


def doubtful_conditions(conditions: Iterable[Condition]) -> str:
    """Why it is in doubt whether the ``conditions`` are met; "" where it is not."""
    return "; ".join(one.found for one in conditions if one.state == "in doubt")


def settings_named(text: str, controls: Iterable[str]) -> dict[str, str]:
    """The values that the conditions in ``text`` name for ``controls``: control in small letters -> value."""
    known = {control.lower() for control in controls}
    return {control: value for control, value in _noted(text).items() if control in known}


def _pieces(text: str) -> Iterator[str]:
    pieces = re.split(r"[,;]\s+|\s+and\s+", text.strip().rstrip("."))
    return (" ".join(piece.split()) for piece in pieces if piece.strip())


def _one(piece: str, log: Results, headline: Figure) -> Condition:
    if match := _SIGNAL.match(piece):
        return _signal(piece, match["signal"].lower(), log)
    if match := _WINDOW.match(piece):
        return _window(piece, float(match["size"] or match["of"] or 100.0), headline)
    if match := _WARM_UP.match(piece):
        return _warm_up(piece, float(match["before"] or match["after"] or 0.0), log)
    if (recorded := _recorded(piece, log)) is not None:
        return recorded
    if match := _NAMED.match(piece):
        return _setting(piece, match["name"].lower(), match["value"], log, headline)
    return Condition(piece, "not recorded")


_RECORDED = re.compile(
    r"(?P<name>"
    + "|".join(sorted({re.escape(name) for one in CONDITIONS for name in (one.words.lower(), one.key)}, key=len)[::-1])
    + r")(?: of| at)?\s*[=:]?\s*(?P<value>\S.*)\Z",
    re.IGNORECASE,
)
_NUMBER = re.compile(r"[-+]?[0-9]+(?:\.(?P<decimals>[0-9]+))?(?=\s*[^0-9.]*\Z)")


def _recorded(piece: str, log: Results) -> Condition | None:
    """A condition that the log has recorded, other than by a sweep; None where it has not."""
    if (match := _RECORDED.match(piece)) is None:
        return None
    names = match["name"].lower()
    for one in log.conditions:
        if names not in (one.words.lower(), one.key) or one.value is None or one.source == "swept":
            continue
        later = tuple(change.value for change in one.changes)
        met = all(_as_claimed(value, match["value"], one.unit) for value in (one.value, *later))
        changed = ", ".join(f"{change.value} from session {change.session}" for change in one.changes)
        found = f"{one.words} was {one.text} ({one.source}){f', {changed}' if changed else ''}"
        if met and (contradicted := _contradicted(one, log)):
            return Condition(piece, "in doubt", contradicted)
        return Condition(piece, "met" if met else "differs", found)
    return None


def _contradicted(one: RecordedCondition, log: Results) -> str:
    """What contradicts the record of a condition, in any session; "" where nothing does."""
    first = {"value": one.value, "source": one.source}  # whichever day it was entered: it is what counts
    others = [{"value": other.value, "source": other.source, "when": other.when} for other in one.others]
    said = [found.text for found in contradictions({one.key: [first, *others]})]
    later = (doubt.text for doubt in log.doubts if doubt.about == "condition")
    said += [text for text in later if text.startswith(f"{one.words} was ")]
    return "; ".join(dict.fromkeys(said))


def _as_claimed(value: Value, claimed: str, unit: str) -> bool:
    """Words in any case; a number to the digits in which it is claimed, in the condition's unit."""
    match = _NUMBER.match(claimed)
    rest = claimed[match.end() :].strip() if match else ""
    if match is None or rest not in ("", "%", unit) or isinstance(value, str):
        return same_setting(str(value), claimed)
    return abs(float(value) - float(match[0])) <= 0.5 * 10.0 ** -len(match["decimals"] or "") * (1.0 + 1e-9)


def _signal(piece: str, wanted: str, log: Results) -> Condition:
    if log.imported:
        return Condition(piece, "not recorded")
    found = str(log.screen.get("signal") or "sdr")
    agrees = found in ("pq", "hlg") if wanted == "hdr" else found == wanted
    return Condition(piece, "met" if agrees else "differs", f"the signal was {found.upper()}")


def _window(piece: str, wanted: float, headline: Figure) -> Condition:
    if (found := _window_of(headline)) is None:
        return Condition(piece, "not recorded")
    words = "full screen" if found >= 100.0 else f"a window of {found:g} %"
    return Condition(piece, "met" if abs(found - wanted) < 0.005 else "differs", f"read on {words}")


def _window_of(headline: Figure) -> float | None:
    """Size of the patch that a figure was read on, % of the screen; None where it is none or several."""
    if match := _IN_NAME.search(headline.name):
        return float(match[1])
    if headline.how.startswith("full screen") or headline.how.endswith("full screen"):
        return 100.0
    under = dict(headline.conditions)
    patch = under.get("patch") or under.get("window", "")
    match = _IN_PATCH.match(patch)
    return float(match[1]) if match else 100.0 if patch == "full screen" else None


def _warm_up(piece: str, minutes: float, log: Results) -> Condition:
    if (done := log.warm_up) is None:
        return Condition(piece, "not recorded")
    if not done.stable:
        return Condition(piece, "differs", "the warm-up ended before the light was stable")
    if minutes and done.minutes is None:
        return Condition(piece, "not recorded")
    if minutes and done.minutes is not None and done.minutes < minutes:
        return Condition(piece, "differs", f"stable after {done.minutes:.0f} min, not waited for longer")
    length = "" if done.minutes is None else f" after {done.minutes:.0f} min"
    return Condition(piece, "met", f"the light was stable{length}")


def _setting(piece: str, name: str, wanted: str, log: Results, headline: Figure) -> Condition:
    """What the figure itself holds for, a control that a sweep set, or what the operator noted of it."""
    if (held := dict(headline.conditions).get(name)) is not None:
        return Condition(piece, "met" if _begins(held, wanted) else "differs", f"the figure holds for {name} {held}")
    rows = log.sweep.rows if log.sweep else ()
    settings = next((row.settings for row in rows if row.point == headline.block.partition("/")[0]), {})
    found = {control.lower(): str(value) for control, value in settings.items()}
    noted = _noted(log.note)
    for values, words in ((found, f"{name} was set to {found.get(name)}"), (noted, f"the note says {log.note!r}")):
        if name in values:
            return Condition(piece, "met" if same_setting(values[name], wanted) else "differs", words)
    return Condition(piece, "not recorded")


def _noted(note: str) -> Mapping[str, str]:
    """Names and values in a note such as "brightness 80, preset warm"."""
    matches = [match for piece in _pieces(note) if (match := _NAMED.match(piece))]
    return {match["name"].lower(): match["value"] for match in matches}


def _begins(held: str, wanted: str) -> bool:
    """Is ``srgb`` meant by ``srgb: sRGB curve after ...``, and ``5x5`` by ``5 x 5``?"""
    head = held.partition(":")[0]
    return any(same_setting(found, wanted) for found in (head, head.replace(" ", ""), *head.split()[:1]))
