"""What a command writes over: an earlier output of its own kind, known by its beginning, and an empty file."""

from __future__ import annotations

import re
from enum import Enum
from pathlib import Path

from benchd.command.output import not_a_log
from benchd.errors import InputError

BEGINNING = 4096
"""Bytes of a file that are looked at."""
_HTML = rb'<!doctype html>\n.{0,400}<meta name="generator" content="benchd %s">'
_JSON = rb'\{\s*"schema": "benchd\.%s/'
_TABLE = rb"path,value,unit,expanded_uncertainty,"
_SVG = (
    rb'<\?xml version="1\.0" encoding="utf-8"\?>\n<svg xmlns="[^"]+" width="[0-9.]+pt" height="[0-9.]+pt" '
    rb'viewBox="[0-9. ]+" version="1\.1" style="font-family:DejaVu Sans,[^"]+">\n<title>[^<]*</title>\n<desc>'
)
_PNG = (
    rb"\x89PNG\r\n\x1a\n\0\0\0\rIHDR.{8}\x08\x02\0\0\0.{4}"  # eight bits of red, green and blue
    rb"\0\0\0\tpHYs.{9}.{4}.{4}iTXtTitle\0{5}.{0,2000}?iTXtDescription\0{5}"
)
_TEXT = rb"(?:SIMULATED: [^\n]*\n)?(?:%s)"


class Kind(Enum):
    """Outputs by how they begin; ``tests/command/test_own_output.py`` holds these against what is written."""

    REPORT = _HTML % b"report"
    COMPARISON = _HTML % b"compare"
    RANKS = _HTML % b"library site"
    RESULTS_JSON = _JSON % b"results"
    BUDGET_JSON = _JSON % b"budget"
    CROSS_CHECK_JSON = _JSON % b"cross-check"
    CSV = _TABLE
    PARQUET = b"PAR1"
    PLOT_SVG = _SVG
    PLOT_PNG = _PNG
    COLOUR_TEXT = rb'ISO28178\nORIGINATOR\t"benchd '
    SUMMARY = _TEXT % rb"(?:[^\n]*\n){0,3}?(?:[^\n]*   )?meter [^\n]+, uncertainty (?:NOT )?stated"
    DETAILS = _TEXT % rb"sample    [^\n]+\n(?:note      [^\n]+\n(?:          [^\n]+\n)*)?plan      "
    BLOCK = _TEXT % rb"(?:! [^\n]+\n)*\n[^\n]+ \xc2\xb7 [^\n]+\n"
    BUDGET = _TEXT % rb"(?:stated|digits)    "
    CROSS_CHECK = _TEXT % rb"[^\n]+: colour figures computed again"


def refuse_other(output: str | Path, kind: Kind, *, yes: bool, instead: str = "another file") -> None:
    """Look at what stands where a command is to write, before it computes anything; ``-`` is stdout.

    Raises `InputError` for a log, for a file of a publication, and, unless ``yes``, for a file that is neither empty
    nor an earlier output of this ``kind``. A device or a pipe is never replaced, so it is none of these.
    """
    if output == "-":
        return
    path = not_a_log(str(output))
    if path.is_dir():
        name = "a file in it" if instead == "another file" else instead
        raise InputError(f"{path} is a folder; name {name}")
    refuse_publication(path.parent)
    if path.is_file() and not yes and not is_own(path, kind):
        raise InputError(f"{path} exists already and is left as it is; name {instead}, or confirm with --yes")


def refuse_publication(folder: Path) -> None:
    """Nothing else is written into a publication, whose files check each other. Raises `InputError`."""
    from benchd.report.publication.manifest import MANIFEST  # for a command that writes a file

    for one in (folder, folder.absolute().parent):  # a publication has folders of one level
        if (one / MANIFEST).exists():
            raise InputError(f"{one} is a publication, which is left as it is; name a place outside of it")


def is_own(path: Path, kind: Kind) -> bool:
    """Is it an earlier output of this kind, or empty?"""
    try:
        with path.open("rb") as file:
            begins = file.read(BEGINNING)
            if kind is Kind.PARQUET:  # what the table is, stands at the end of such a file
                file.seek(max(0, path.stat().st_size - 2 * BEGINNING))
                return not begins or (begins.startswith(kind.value) and b"benchd.table/" in file.read())
    except OSError:
        return False
    return not begins or re.match(kind.value, begins, re.DOTALL if kind in _ANY_BYTE else 0) is not None


_ANY_BYTE = (Kind.REPORT, Kind.COMPARISON, Kind.RANKS, Kind.PLOT_PNG)
