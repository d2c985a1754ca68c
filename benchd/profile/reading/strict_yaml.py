"""YAML, the strict half of it: mappings, lists, text, plain decimal numbers, true and false; with places.

The only importer of yaml. Refused, with the place: keys given twice, values left out, anchors, aliases,
merge keys, tags, keys that are not text, a second document. Numbers are plain decimals: ``010``, ``1:30``,
``1e3``, ``.5``, and flags ``yes``, ``off`` are text here, and so refused wherever a number or flag belongs.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import contextmanager
from decimal import Decimal
from typing import Any, TypeVar

import yaml

from benchd.errors import ProfileError
from benchd.profile.reading.base import Document, Mark, Path, ProfileModel
from benchd.profile.reading.explain import faults_of, show

_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
Model = TypeVar("Model", bound=ProfileModel)
Update = Callable[[Mapping[str, Any]], Mapping[str, Any]]

MAX_DEPTH = 24
_INTEGER = re.compile(r"-?(0|[1-9][0-9]{0,14})\Z")
_NO_SPACE = re.compile(r"([A-Za-z_]+):(\S.*)")
_DECIMAL = re.compile(r"-?(0|[1-9][0-9]{0,14})\.[0-9]{1,30}\Z")


def read_document(text: str, file_name: str) -> Document:
    """Parse ``text``. Structural faults are in ``Document.faults``; the data goes as far as it is sound.

    Raises `ProfileError` when there is no going on: bad syntax, an empty file, a file that is no mapping.
    """
    document = Document(file_name)
    try:
        events = iter(yaml.parse(text, Loader=_Loader))
        _Builder(document, events).build()
    except (yaml.reader.ReaderError, UnicodeEncodeError):
        raise ProfileError((document.fault(*_unprintable(text)),)) from None
    except yaml.YAMLError as error:
        mark, sentence = _syntax(error, text)
        # What was found beyond the place may only follow from it.
        before = [fault for fault in document.faults if (fault.line, fault.column) < mark]
        raise ProfileError((*before, document.fault(mark, sentence))) from None
    except RecursionError:  # the loader of pure Python, on absurd nesting
        raise ProfileError((document.fault(Mark(1, 1), _TOO_DEEP),)) from None
    if document.data is None and not document.faults:
        document.fault(Mark(1, 1), "the file is empty; it needs keys, one a line, such as 'about: ...'")
    elif not isinstance(document.data, dict) and not document.faults:
        document.at_value((), "the file must be a mapping: keys with values, one a line, such as 'about: ...'")
    if not isinstance(document.data, dict):
        raise ProfileError(tuple(document.faults))
    return document


@contextmanager
def causes_named(text: str, file_name: str, keys: Collection[str]) -> Iterator[None]:
    """Errors in ``text`` that come of one cause are reported as that: another kind of file than the one that has
    ``keys``, or a blank which is no plain space.
    """
    try:
        yield
    except ProfileError as error:
        from benchd.profile.reading.odd_blanks import with_odd_blanks  # for a file at fault only
        from benchd.profile.reading.other_kind import other_kind

        faults = with_odd_blanks(error.faults, text, file_name)
        raise ProfileError(other_kind(faults, text, file_name, keys)) from None


def load_model(model: type[Model], text: str, file_name: str, update: Update | None = None) -> Model:
    """``text`` as ``model``. Raises `ProfileError` with all errors in the file, each with its place.

    ``update``: makes the data of an earlier version that of this one.
    """
    with causes_named(text, file_name, model.model_fields):
        return _load_model(model, text, file_name, update)


def _load_model(model: type[Model], text: str, file_name: str, update: Update | None) -> Model:
    document = read_document(text, file_name)
    if update is not None:
        document.data = update(document.data)
    loaded = faults_of(model, document)
    if loaded is None or document.faults:
        raise ProfileError(tuple(document.faults))
    return loaded


class _PlainDumper(yaml.SafeDumper):
    """Writes what `read_document` reads: no aliases, and numbers without an exponent."""

    def ignore_aliases(self, data: Any) -> bool:
        return True

    def represent_plain(self, value: float) -> Any:
        """All digits; thirty places hold every covariance that matters."""
        text = f"{Decimal(repr(value)):.30f}".rstrip("0")
        return self.represent_scalar("tag:yaml.org,2002:float", f"{text}0" if text.endswith(".") else text)


_PlainDumper.add_representer(float, _PlainDumper.represent_plain)


def yaml_text(data: Mapping[str, Any]) -> str:
    """Plain data as a profile that is read back to the last bit; innermost lists and mappings on a line each."""
    return yaml.dump(
        data, Dumper=_PlainDumper, sort_keys=False, default_flow_style=None, width=1_000_000, allow_unicode=True
    )


_TOO_DEEP = f"nested deeper than {MAX_DEPTH} levels; no profile needs that"


class _Builder:
    """Events -> plain data and places. Events, not nodes: anchors and aliases are seen before they take effect."""

    def __init__(self, document: Document, events: Iterator[Any]) -> None:
        self._document = document
        self._events = events

    def build(self) -> None:
        documents = 0
        for event in self._events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents == 2:
                    self._document.fault(_mark(event.start_mark), "a second document; a file holds one only")
                    return
                self._document.data = self._node(next(self._events), ())

    def _node(self, event: Any, path: Path) -> Any:
        mark = _mark(event.start_mark)
        self._document.values[path] = mark
        if len(path) > MAX_DEPTH:
            raise ProfileError((self._document.fault(mark, _TOO_DEEP),))
        if isinstance(event, yaml.AliasEvent):
            self._document.fault(
                mark, f"alias {show(f'*{event.anchor}')}: write the value out; aliases are not used here"
            )
            return self._refused(path)
        if event.anchor is not None:
            self._document.fault(mark, f"anchor {show(f'&{event.anchor}')}: remove it; anchors are not used here")
        if event.tag is not None:
            tag = event.tag.replace("tag:yaml.org,2002:", "!!")
            self._document.fault(mark, f"tag {show(tag)}: remove it; tags are not used here")
            self._document.refused.add(path)
        if isinstance(event, yaml.SequenceStartEvent):
            return self._list(path)
        if isinstance(event, yaml.MappingStartEvent):
            return self._mapping(path)
        return self._scalar(event, path, mark)

    def _list(self, path: Path) -> list[Any]:
        items: list[Any] = []
        index = 0
        while not isinstance(event := next(self._events), yaml.SequenceEndEvent):
            items.append(self._node(event, (*path, index)))
            index += 1
        return items

    def _mapping(self, path: Path) -> dict[str, Any]:
        mapping: dict[str, Any] = {}
        while not isinstance(event := next(self._events), yaml.MappingEndEvent):
            key = self._key(event, path)
            inner = (*path, key)
            if key in mapping:
                first = self._document.keys[inner]
                kept = self._document.values[inner]
                text = f"key {show(key)} is given twice (first in line {first.line}); keep one"
                self._document.fault(_mark(event.start_mark), text)
                # Read on, but neither the data nor the places of the first one are touched.
                self._node(next(self._events), (*path, key, -1))
                self._document.values[inner] = kept
                continue
            self._document.keys[inner] = _mark(event.start_mark)
            mapping[key] = self._node(next(self._events), inner)
        return mapping

    def _key(self, event: Any, path: Path) -> str:
        mark = _mark(event.start_mark)
        if not isinstance(event, yaml.ScalarEvent):
            raise ProfileError((self._document.fault(mark, "a key must be a word, not a list, mapping or alias"),))
        if event.value == "<<" and event.implicit[0]:
            self._document.fault(mark, "merge key '<<': write the keys out; merging is not used here")
            self._document.refused.add((*path, "<<"))
        if event.anchor is not None or event.tag is not None:
            self._document.fault(mark, "a key must be a plain word, without anchor or tag")
        return str(event.value)

    def _scalar(self, event: Any, path: Path, mark: Mark) -> Any:
        text = str(event.value)
        plain = bool(event.implicit[0])
        if any("\ud800" <= character <= "\udfff" for character in text):
            self._document.fault(mark, "half a surrogate pair is no character; write the character itself")
            return self._refused(path)
        if not plain:
            return text
        if text in ("", "~", "null", "Null", "NULL"):
            if path:
                self._no_value(path)
            return self._refused(path)
        if text in ("true", "false"):
            return text == "true"
        if _INTEGER.match(text):
            return int(text)
        if _DECIMAL.match(text):
            return float(text)
        return text

    def _refused(self, path: Path) -> Any:
        """No value: that is reported, and nothing else about it."""
        self._document.refused.add(path)
        return None

    def _no_value(self, path: Path) -> None:
        if isinstance(path[-1], int):
            self._document.at_value(path, "a list item without a value; write one or remove the item")
            return
        key = str(path[-1])
        advice = "write it here or indented below ('{}' has no keys), or remove the key"
        if joined := _NO_SPACE.match(key):
            advice = f"write a space behind the colon: {joined[1]}: {joined[2]}"
        elif _INTEGER.match(key):
            advice = (
                "a comma parts entries here; a decimal has a point, such as 7.5, and a list brackets, such as [20, 50]"
            )
        self._document.at_key(path, f"key {show(key)} has no value; {advice}")


def _mark(mark: Any) -> Mark:
    return Mark(mark.line + 1, mark.column + 1)


def _unprintable(text: str) -> tuple[Mark, str]:
    """Place and sentence of the first character that YAML does not take."""
    # Compiled only here: it takes longer than to load a plan.
    found = re.search(r"[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", text)
    at = found.start() if found else 0
    before = text[:at]
    mark = Mark(before.count("\n") + 1, at - before.rfind("\n"))
    character = f"character U+{ord(text[at]):04X}" if found else "a character"
    return mark, f"{character} does not belong in a text file; remove it"


# Parts of the messages of the two parsers (the one in C and the one in Python), and their meaning to the operator.
_QUOTED = "the text in quotation marks that begins here is not right; a backslash stands for itself in '...' only"
_SECOND_COLON = "a second ':' in this line; put a text with a ':' in quotation marks"
_NO_COLON = "a ':' with a space after it is missing"
_NOT_OF_THE_LINE = "what stands here does not belong to the line"
_SYNTAX = (
    ("mapping values are not allowed", "this line is indented unlike its neighbours"),
    ("found unexpected end of stream", "the text that begins here with a quotation mark is not closed"),
    ("while scanning a quoted scalar", _QUOTED),
    ("while scanning a double-quoted scalar", _QUOTED),
    ("while parsing a quoted scalar", _QUOTED),
    ("while parsing a flow", "the bracket that opens here is not closed, or a comma is missing in it"),
    ("while parsing a block", "this line is indented unlike the lines that it belongs with, or a ':' is missing in it"),
    ("could not find expected ':'", _NO_COLON),
    ("<document start>", f"{_NOT_OF_THE_LINE}; a ':' needs a space after it"),
    ("maximum nesting depth", _TOO_DEEP),
)
_AT_CONTEXT = ("flow", "quoted", "simple key")


def _syntax(error: yaml.YAMLError, text: str) -> tuple[Mark, str]:
    """Place and sentence of an error of the parser."""
    context, problem = str(getattr(error, "context", "") or ""), str(getattr(error, "problem", "") or "")
    at = getattr(error, "problem_mark", None)
    if at is None:
        return Mark(1, 1), f"this can't be read as YAML: {' '.join(str(error).split())}"
    lines = re.split(r"\r\n|[\n\r\x85\u2028\u2029]", text)
    here = lines[at.line][at.column : at.column + 1] if at.line < len(lines) else ""
    if here == "\t":
        return _mark(at), "a tab; indent with spaces"
    if "cannot start any token" in problem and here:
        return _mark(at), f"a value can't begin with {here!r}; put the value in quotation marks"
    before = lines[at.line][: at.column] if at.line < len(lines) else ""
    above = lines[at.line - 1] if at.line else ""
    if "mapping values" in problem:
        if re.search(r":\s", before):
            return _mark(at), _SECOND_COLON
        if above.strip() and ":" not in above and not above.lstrip().startswith("#"):
            return Mark(at.line, len(above) - len(above.lstrip()) + 1), _NO_COLON
    if "while parsing a block" in context and before.strip():
        return _mark(at), _NOT_OF_THE_LINE
    said = f"{problem} {context}"
    for part, sentence in _SYNTAX:
        if part in said:
            start = getattr(error, "context_mark", None)
            at_start = start is not None and any(word in context for word in _AT_CONTEXT)
            return _mark(start if at_start else at), sentence
    return _mark(at), f"this can't be read as YAML: {problem or context}"
