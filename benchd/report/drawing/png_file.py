"""A PNG file (ISO/IEC 15948) of pixels.

Rows are not filtered: plots, which have large areas of one colour, become smaller so, and their files are written in a
quarter of the time that an image library takes, which chooses a filter for each row.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Mapping

_LEVEL = 3
"""Of compression."""
_INCH_M = 0.0254


def png_file(colours: bytes, columns: int, dots_per_inch: float, words: Mapping[str, str]) -> bytes:
    """``colours``: red, green and blue, a byte each, row by row from the top. ``words`` are text by their keys."""
    row = 3 * columns
    plain = b"".join(b"\0" + colours[at : at + row] for at in range(0, len(colours), row))
    metre = round(dots_per_inch / _INCH_M)
    said = (key.encode("latin-1") + b"\0\0\0\0\0" + text.encode() for key, text in words.items())
    parts = (
        (b"IHDR", struct.pack(">IIBBBBB", columns, len(colours) // row, 8, 2, 0, 0, 0)),
        (b"pHYs", struct.pack(">IIB", metre, metre, 1)),
        *((b"iTXt", text) for text in said),
        (b"IDAT", zlib.compress(plain, _LEVEL)),
        (b"IEND", b""),
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)) for kind, data in parts
    )
