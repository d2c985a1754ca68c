"""matplotlib, imported without the help texts that it writes for its own classes meanwhile: a third of the time."""

from typing import Any

import matplotlib
from matplotlib import artist


def _unwritten(artist: Any) -> str:
    return ""


_written, artist.kwdoc = artist.kwdoc, _unwritten
try:
    from matplotlib.figure import Figure

    from benchd.report.plots.renderer import Renderer
finally:
    artist.kwdoc = _written

__all__ = ["Figure", "Renderer", "matplotlib"]
