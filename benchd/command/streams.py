"""The three streams of a command, mended at its start: all are open, and signs that a terminal lacks have stand-ins."""

from __future__ import annotations

import codecs
import io
import os
import sys

STAND_INS = {
    "±": "+/-",
    "…": "...",
    "≤": "<=",
    "≥": ">=",
    "×": "x",
    "\ufffd": "?",
    "µ": "u",
    "μ": "u",
    "Δ": "d",
    "°": " deg",
    **dict.fromkeys("–—−·", "-"),
    **dict.fromkeys("′‘’“”", "'"),
    "″": "''",
    **dict.fromkeys("\u00a0\u2003\u2007\u2008\u202f", " "),
    **dict(zip("⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉", "0123456789" * 2, strict=True)),
}
"""What our texts have beyond ASCII, in signs that every terminal has and that end no text in JSON."""
_HANDLER = "benchd.stand-ins"


def mend_streams() -> None:
    """Descriptors that are missing at start are opened on nothing, so that no file that is opened later becomes one.

    A sign that the character set of an output lacks becomes its stand-in, or where it has none (a letter of a name)
    the escape that JSON has for it, so that data stay what they are.
    """
    for descriptor in range(3):
        try:
            os.fstat(descriptor)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # the lowest free number: this very descriptor
    sys.stdin = sys.stdin or open(0, closefd=False)  # noqa: SIM115 - as long as the process
    sys.stdout = sys.stdout or open(1, "w", closefd=False)  # noqa: SIM115
    sys.stderr = sys.stderr or open(2, "w", closefd=False)  # noqa: SIM115
    codecs.register_error(_HANDLER, _plain)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=_HANDLER)


def _plain(error: UnicodeError) -> tuple[str, int]:
    assert isinstance(error, UnicodeEncodeError)  # of streams that are written
    return "".join(map(_stand_in, error.object[error.start : error.end])), error.end


def _stand_in(sign: str) -> str:
    if sign in STAND_INS:
        return STAND_INS[sign]
    units = sign.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at : at + 2].hex()}" for at in range(0, len(units), 2))
