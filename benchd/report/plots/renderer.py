"""Draws a matplotlib figure as SVG and as pixels in one go: what costs the time is the way through the figure."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from typing import Any

from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.backends.backend_svg import RendererSVG
from matplotlib.path import Path
from matplotlib.textpath import text_to_path
from matplotlib.transforms import Affine2D, TransformedBbox, TransformedPath
from PIL import Image

from benchd.report.plots.png_file import png_file

_POINTS = 72.0


class Renderer(RendererSVG):  # type: ignore[misc] # matplotlib has no types
    """Writes SVG to ``out``; all goes into a picture of ``dots_per_inch`` as well, unless that is 0."""

    def __init__(
        self, width: float, height: float, out: io.StringIO, words: Mapping[str, str], dots_per_inch: int
    ) -> None:
        super().__init__(width, height, out, metadata={"Date": None, "Creator": None, **words})
        self._scale = Affine2D().scale(dots_per_inch / _POINTS)
        size = (round(side * dots_per_inch / _POINTS) for side in (width, height))
        self._pixels = RendererAgg(*size, dots_per_inch) if dots_per_inch else None

    def png(self, words: Mapping[str, str]) -> bytes:
        """The picture as a file, with ``words`` in it by their keys."""
        assert self._pixels is not None
        pixels = self._pixels
        size = int(pixels.width), int(pixels.height)
        image = Image.frombuffer("RGBA", size, pixels.buffer_rgba(), "raw", "RGBA", 0, 1).convert("RGB")
        return png_file(image.tobytes(), size[0], pixels.dpi, words)

    def get_text_width_height_descent(self, s: str, prop: Any, ismath: Any) -> Any:
        return _size(s, prop, ismath)

    def draw_path(self, gc: Any, path: Any, transform: Any, rgbFace: Any = None) -> None:
        super().draw_path(gc, path, transform, rgbFace)
        if self._pixels:
            self._pixels.draw_path(self._scaled(gc), path, transform + self._scale, rgbFace)

    def draw_markers(
        self, gc: Any, marker: Any, marker_transform: Any, path: Any, transform: Any, *rest: Any, **more: Any
    ) -> None:
        with self._svg_alone() as pixels:
            super().draw_markers(gc, marker, marker_transform, path, transform, *rest, **more)
        if pixels:
            places = (marker, marker_transform + self._scale, path, transform + self._scale)
            pixels.draw_markers(self._scaled(gc), *places, *rest, **more)

    def draw_path_collection(
        self,
        gc: Any,
        transform: Any,
        paths: Any,
        transforms: Any,
        offsets: Any,
        offset_transform: Any,
        *rest: Any,
        **more: Any,
    ) -> None:
        with self._svg_alone() as pixels:
            super().draw_path_collection(gc, transform, paths, transforms, offsets, offset_transform, *rest, **more)
        if pixels:
            places = (transform + self._scale, paths, transforms, offsets, offset_transform + self._scale)
            pixels.draw_path_collection(self._scaled(gc), *places, *rest, **more)

    def draw_text(
        self, gc: Any, x: float, y: float, s: str, prop: Any, angle: float, ismath: Any = False, mtext: Any = None
    ) -> None:
        super().draw_text(gc, x, y, s, prop, angle, ismath, mtext)
        if self._pixels:
            size = self.points_to_pixels(prop.get_size_in_points()) / text_to_path.FONT_SCALE
            place = Affine2D().scale(size).rotate_deg(angle).translate(x, self.height - y)
            filled = self._scaled(gc)
            filled.set_linewidth(0.0)
            filled.set_snap(False)
            self._pixels.draw_path(filled, _outline(s, prop, ismath), place + self._scale, gc.get_rgb())

    def draw_image(self, *_: Any, **more: Any) -> None:
        raise NotImplementedError("a plot is made of lines, areas and text: an SVG file with pixels is blurred")

    @contextmanager
    def _svg_alone(self) -> Iterator[RendererAgg | None]:
        """What is drawn as SVG piece by piece is drawn in pixels as a whole, by the renderer that is given."""
        pixels, self._pixels = self._pixels, None
        try:
            yield pixels
        finally:
            self._pixels = pixels

    def _scaled(self, gc: Any) -> Any:
        """The graphics context with its clipping in pixels; sizes in it are points, here as there."""
        made = self.new_gc()
        made.copy_properties(gc)
        if (box := gc.get_clip_rectangle()) is not None:
            made.set_clip_rectangle(TransformedBbox(box, self._scale))
        path, transform = gc.get_clip_path()
        if path is not None:
            made.set_clip_path(TransformedPath(path, transform + self._scale))
        return made


@cache
def _size(text: str, font: Any, ismath: Any) -> Any:
    """Width, height and descent, in points."""
    return text_to_path.get_text_width_height_descent(text, font, ismath)


@cache
def _outline(text: str, font: Any, ismath: Any) -> Path:
    """Of all signs of a text: most texts stand in several plots, and a glyph in pixels is made anew each time."""
    points, codes = text_to_path.get_text_path(font, text, ismath)
    return Path(points, codes)
