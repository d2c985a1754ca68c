"""The folder of ``--plots``: every plot as SVG and PNG, over nothing but an earlier plot of benchd."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from benchd.command.messages import say
from benchd.command.output import not_written
from benchd.command.own_output import Kind, is_own, refuse_other
from benchd.report.words import count

if TYPE_CHECKING:
    from benchd.report.plots.picture import Picture
    from benchd.report.plots.plot import Plot

_KINDS = {".svg": Kind.PLOT_SVG, ".png": Kind.PLOT_PNG}


def refuse_other_files(plots: Sequence[Plot], folder: Path, *, yes: bool) -> None:
    """Look at what stands where the plots are to go, before any of them is drawn. Raises `InputError`."""
    for one in plots:
        for suffix, kind in _KINDS.items():
            refuse_other(folder / f"{one.name}{suffix}", kind, yes=yes, instead="another folder")


def write_plots(plots: Sequence[Picture], folder: Path) -> None:
    """Every plot, and how many others stand there. Raises `InputError` when the folder can't be written."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for one in plots:
            (folder / f"{one.plot.name}.svg").write_text(one.svg, encoding="utf-8")
            (folder / f"{one.plot.name}.png").write_bytes(one.png)
        here = [path for path in folder.iterdir() if path.suffix in _KINDS and path.is_file()]
    except OSError as error:
        raise not_written(folder, error) from None
    say(f"Plots: {len(plots)}, each as SVG and PNG, in {folder}")
    written = {one.plot.name for one in plots}
    # An empty file is written over, but it is no plot.
    found = {path.stem for path in here if is_own(path, _KINDS[path.suffix]) and path.stat().st_size}
    if others := found - written:
        say(f"{folder} also holds {count(len(others), 'other plot')} of benchd from earlier")
