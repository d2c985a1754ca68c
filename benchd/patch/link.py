"""The link between a run and a window on another machine: authentication of both sides and of every line.

Both machines share a secret (a token file). Neither sends it: each proves that it has it by an HMAC over the other's
random challenge, and every line after that carries an HMAC of its direction, its number and its text. Lines are not
secret (they say which patch is shown); they can't be forged, repeated, left out or changed unnoticed.

    far machine, on connecting   {"benchd_window": 1, "challenge": "<64 hex digits>"}
    run                          {"challenge": "<64 hex digits>", "proof": "<64 hex digits>"}
    far machine                  {"proof": "<64 hex digits>"}     or {"refused": "one sentence"} and the end
    then, both ways              <64 hex digits> <a line of the window protocol>

Primitives: HMAC (RFC 2104) with SHA-256 (FIPS 180-4), compared in constant time.
"""

from __future__ import annotations

import hashlib
import hmac
import os
import re
import secrets
import stat
from pathlib import Path

from benchd.errors import InputError

VERSION = 1
LONGEST_HELLO = 512  # bytes of a line before both sides are known
HELLO_WITHIN_S = 5.0

_HEX = re.compile(r"[0-9a-f]{64}\Z")
_TO_WINDOW, _TO_RUN = b"to window", b"to run"


class NotTrusted(ValueError):
    """The other side does not have the secret, or a line is not from it; the text gives which."""


def new_challenge() -> str:
    """A random challenge, used once."""
    return secrets.token_hex(32)


def is_hex(text: object) -> bool:
    """True for 64 lower-case hexadecimal digits, as challenges and proofs are."""
    return isinstance(text, str) and _HEX.match(text) is not None


def proof(secret: bytes, who: str, for_challenge: str, own_challenge: str) -> str:
    """What ``who`` ("run" or "window") answers to ``for_challenge``; bound to both challenges and to its side."""
    text = f"benchd window {VERSION}|{who}|{for_challenge}|{own_challenge}"
    return hmac.new(secret, text.encode(), hashlib.sha256).hexdigest()


def same(one: object, other: str) -> bool:
    """Constant-time comparison of a proof."""
    return isinstance(one, str) and hmac.compare_digest(one.encode("utf-8", "replace"), other.encode())


def session_key(secret: bytes, window_challenge: str, run_challenge: str) -> bytes:
    """The key of one session: of no use for another."""
    text = f"benchd window {VERSION}|session|{window_challenge}|{run_challenge}"
    return hmac.new(secret, text.encode(), hashlib.sha256).digest()


class Seal:
    """Marks lines that go one way and checks those that come the other way."""

    def __init__(self, key: bytes, *, is_run: bool) -> None:
        self._key = key
        self._out, self._in = (_TO_WINDOW, _TO_RUN) if is_run else (_TO_RUN, _TO_WINDOW)
        self._sent = self._heard = 0

    def sealed(self, line: bytes) -> bytes:
        """``line`` (without its line end) as it goes over the link, with a line end."""
        self._sent += 1
        return self._mark(self._out, self._sent, line) + b" " + line + b"\n"

    def opened(self, sealed: bytes) -> bytes:
        """The line in ``sealed`` (without its line end). Raises `NotTrusted`."""
        mark, _, line = sealed.partition(b" ")
        self._heard += 1
        if not hmac.compare_digest(mark, self._mark(self._in, self._heard, line)):
            raise NotTrusted("a line on the link is not from the other machine, or was changed, repeated or left out")
        return line

    def _mark(self, way: bytes, number: int, line: bytes) -> bytes:
        return hmac.new(self._key, way + b"|%d|" % number + line, hashlib.sha256).hexdigest().encode()


def read_secret(path: Path) -> bytes:
    """The secret of a token file. Raises `InputError` when it can't be read, is too short, or others can read it."""
    try:
        mode = path.stat().st_mode
        text = path.read_bytes().strip()
    except OSError as error:
        raise InputError(
            f"the token file {path} can't be read ({(error.strerror or 'unknown reason').lower()}); "
            "copy it from the other machine: `benchd window --listen` there makes one"
        ) from None
    if stat.S_IMODE(mode) & 0o077:
        raise InputError(f"the token file {path} can be read by others; make it yours alone: chmod 600 {path}")
    if len(text) < 32:
        raise InputError(f"the token file {path} holds {len(text)} characters; a secret has 32 or more")
    return text


def make_secret(path: Path) -> None:
    """A new token file, for its owner only. Raises `InputError`."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w") as file:
            file.write(secrets.token_hex(32) + "\n")
    except OSError as error:
        raise InputError(f"no token file can be made at {path} ({(error.strerror or 'unknown').lower()})") from None
