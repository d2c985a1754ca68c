"""The one palette of all pages. Each page takes it in when it is made, so that each stays one file (or one origin)."""

from __future__ import annotations

from pathlib import Path

PALETTE = Path(__file__).resolve().parent / "palette.css"


def with_palette(style: Path) -> str:
    """The style sheet ``style`` after the custom properties that it uses."""
    return "\n".join(one.read_text(encoding="utf-8") for one in (PALETTE, style))
