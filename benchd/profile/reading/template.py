"""Patterns and templates of a dialect: what is sent, what is matched, and the checks of both.

A *template* is text with places such as ``{integration_ms}`` or ``{Y:.4E}``; a *pattern* is a Python regular
expression that must match a whole answer. Both are ASCII.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import cache
from string import Formatter
from typing import Annotated, Any

from pydantic import AfterValidator, ValidationInfo

REGEX_SIGNS = re.compile(r"[.^$*+?{}\[\]\\|()]")


class _Filler(Formatter):
    """``str.format`` by name only: no attributes, no indices, and plain numbers stay short."""

    def get_field(self, field_name: str, args: Any, kwargs: Any) -> Any:
        if field_name not in kwargs:
            raise ValueError(f"nothing is known to put in place of {{{field_name}}}")
        return kwargs[field_name], field_name

    def format_field(self, value: Any, format_spec: str) -> Any:
        if isinstance(value, str):
            return value  # text such as "AUTO" ignores a number's format
        if format_spec:
            return format(value, format_spec)
        return f"{value:.6g}"


_FILLER = _Filler()


def fill(template: str, values: dict[str, str | float]) -> str:
    """``template`` with its ``{name}`` and ``{name:.4f}`` places filled; raises ValueError for an unknown name."""
    if "{" not in template and "}" not in template:
        return template
    return _FILLER.vformat(template, (), values)


def names_in(template: str) -> set[str]:
    """The names of the places in ``template``; raises ValueError when it can't be read."""
    return {name for _, name, _, _ in Formatter().parse(template) if name is not None}


@cache
def compiled(pattern: str) -> re.Pattern[str]:
    """The pattern, compiled; its whole answer must match, ASCII letters and digits only."""
    return re.compile(pattern, re.ASCII)


def checked_ascii(text: str) -> str:
    """``text``; raises ValueError when it is not ASCII."""
    if not text.isascii():
        raise ValueError(f"{text!r} holds signs that are not ASCII; a serial line carries ASCII only")
    return text


def checked_pattern(pattern: str, allowed: set[str]) -> str:
    """``pattern``; raises ValueError when it can't be read or names a group that is not allowed."""
    try:
        groups = set(compiled(checked_ascii(pattern)).groupindex)
    except re.error as error:
        raise ValueError(f"the pattern can't be read: {error}") from None
    if unknown := groups - allowed:
        raise ValueError(f"nothing is known about a group named {listed(unknown)}; allowed are {listed(allowed)}")
    return pattern


def checked_template(template: str, allowed: set[str]) -> str:
    """``template``; raises ValueError when it can't be read or names a place that is not allowed."""
    try:
        names = names_in(checked_ascii(template))
    except ValueError as error:
        raise ValueError(f"{template!r} can't be read: {error}; write {{{{ for a brace") from None
    if unknown := names - allowed:
        raise ValueError(f"{listed(unknown)} can't stand in braces here; allowed are {listed(allowed) or 'none'}")
    return template


def listed(names: set[str] | frozenset[str]) -> str:
    """Names as a sentence lists them."""
    return ", ".join(sorted(names, key=lambda name: (name.lower(), name)))


def checked_example(example: str | None, pattern: str | None, values: dict[str, str | float]) -> None:
    """The example, filled, must be matched by the pattern."""
    if pattern is None:
        if example is not None:
            raise ValueError("an example needs a pattern to match; give 'expect' too")
        return
    if example is None:
        raise ValueError("give an 'example' of an answer that 'expect' matches")
    try:
        answer = fill(example, values)
    except ValueError as error:
        raise ValueError(f"the example {example!r} can't be filled in: {error}") from None
    if compiled(pattern).fullmatch(answer) is None:
        raise ValueError(f"the example, filled in as {answer!r}, is not matched by 'expect': {pattern!r}")


# --- what a model says of the type of a key ----------------------------------------------------------------


def template_of(*places: str, needs: Sequence[str] = (), advice: str = "") -> AfterValidator:
    """A template with these places, or some of them; ``advice`` follows where one that it ``needs`` is missing."""

    def check(text: str) -> str:
        if missing := set(needs) - names_in(checked_template(text, set(places))):
            raise ValueError(f"{{{listed(missing)}}} is missing; {advice}")
        return text

    return AfterValidator(check)


def pattern_of(*groups: str, needs: Sequence[str] = (), advice: str = "") -> AfterValidator:
    """A pattern with these groups, or some of them; ``advice`` follows where one that it ``needs`` is missing."""

    def check(text: str) -> str:
        checked_pattern(text, set(groups))
        if missing := set(needs) - set(compiled(text).groupindex):
            raise ValueError(f"the group {listed(missing)} is missing; {advice}")
        return text

    return AfterValidator(check)


def answer_of(sample: Mapping[str, str | float], *later: str) -> AfterValidator:
    """An answer with places for ``sample`` which, filled with it, the key ``expect`` before it matches.

    One with a place in ``later`` is held against the pattern elsewhere.
    """

    def check(text: str | None, info: ValidationInfo) -> str | None:
        places = set() if text is None else names_in(checked_template(text, {*sample, *later}))
        if "expect" in info.data and not places & set(later):
            checked_example(text, info.data["expect"], {**sample})
        return text

    return AfterValidator(check)


def _checked_sentences(errors: dict[str, str]) -> dict[str, str]:
    for code, sentence in errors.items():
        checked_pattern(code, set())
        if not sentence.strip():
            raise ValueError(f"error {code!r} needs a sentence for the operator")
    return errors


ErrorSentences = Annotated[dict[str, str], AfterValidator(_checked_sentences)]
"""Pattern of an error's code -> a sentence."""
