"""Shapes as pixels: lines and areas by aggdraw (anti-grain geometry), texts by Pillow."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from itertools import accumulate, cycle, pairwise
from typing import Any

import aggdraw
from PIL import Image, ImageDraw, ImageFont

from benchd.report.drawing import typeface
from benchd.report.drawing.shapes import Discs, Fill, Layer, Place, Strokes, Text

_OPAQUE = 255


def pixels(layers: Iterable[tuple[float, Layer]], size: Place, scale: float, paper: str) -> tuple[bytes, int]:
    """Red, green and blue, a byte each, row by row from the top, and how many columns there are.

    Each layer lies so many points lower than it says. ``scale``: dots a point.
    """
    columns, rows = (round(side * scale) for side in size)
    image = Image.new("RGB", (columns, rows), paper)
    for down, layer in layers:
        if layer.clip is None:
            _draw(image, layer, scale, (0.0, scale * down))
            continue
        box = layer.clip
        left, right = round(scale * box.left), round(scale * box.right)
        top, bottom = round(scale * (box.top + down)), round(scale * (box.bottom + down))
        part = image.crop((left, top, right, bottom))
        _draw(part, layer, scale, (-float(left), scale * down - top))
        image.paste(part, (left, top))
    return image.tobytes(), columns


def _draw(image: Image.Image, layer: Layer, scale: float, moved: Place) -> None:
    if several := layer.lines_and_areas:
        canvas = aggdraw.Draw(image)
        for shape in several:
            _geometry(canvas, shape, scale, moved)
        canvas.flush()
    for text in layer.texts:
        _text(image, text, scale, moved)


def _geometry(canvas: Any, shape: Strokes | Fill | Discs, scale: float, moved: Place) -> None:
    def flat(places: Sequence[Place]) -> list[float]:
        return [at for x, y in places for at in (scale * x + moved[0], scale * y + moved[1])]

    alpha = round(_OPAQUE * shape.alpha)
    if isinstance(shape, Strokes):
        pen = aggdraw.Pen(shape.colour, scale * shape.width, alpha)
        lines = (dash for line in shape.lines for dash in dashes(line, shape.dash))
        for line in lines:
            canvas.line(flat(line), pen)
    elif isinstance(shape, Fill):
        brush = aggdraw.Brush(shape.colour, alpha)
        for outline in shape.outlines:
            canvas.polygon(flat(outline), None, brush)
    else:
        pen = aggdraw.Pen(shape.colour, scale * shape.line, alpha) if shape.line else None
        brush = None if shape.line else aggdraw.Brush(shape.colour, alpha)
        for x, y in shape.centres:
            ends = ((x - shape.radius, y - shape.radius), (x + shape.radius, y + shape.radius))
            canvas.ellipse(flat(ends), pen, brush)


def dashes(line: Sequence[Place], pattern: Sequence[float]) -> Iterator[Sequence[Place]]:
    """The parts of a line that a dash pattern leaves; the whole line where there is none."""
    if not pattern:
        yield line
        return
    turns = accumulate(cycle(pattern), initial=0.0)
    next(turns)
    turn, drawn, gone = next(turns), True, 0.0
    part = [line[0]]
    for start, end in pairwise(line):
        length = math.dist(start, end)
        while turn < gone + length:
            share = (turn - gone) / length
            at = (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))
            if drawn:
                yield [*part, at]
            part, drawn, turn = [at], not drawn, next(turns)
        if drawn:
            part.append(end)
        gone += length
    if drawn and len(part) > 1:
        yield part


def _text(image: Image.Image, text: Text, scale: float, moved: Place) -> None:
    font = _font(round(scale * text.size, 2))
    x, y = scale * text.at[0] + moved[0], scale * text.at[1] + moved[1]
    anchor = {"start": "ls", "middle": "ms", "end": "rs"}[text.across]
    if not text.turn and text.alpha == 1.0:
        ImageDraw.Draw(image).text((x, y), text.text, fill=text.colour, font=font, anchor=anchor)
        return
    mask = _turned(text.text, font, anchor, text.turn, round(_OPAQUE * text.alpha))
    half = mask.width // 2
    image.paste(text.colour, (round(x) - half, round(y) - half), mask)


@cache
def _turned(text: str, font: ImageFont.FreeTypeFont, anchor: str, turn: float, level: int) -> Image.Image:
    """A square in whose middle the anchor of the text is, so that it stays there when the square is turned.

    Kept, since the same mark and the same axes stand in many plots.
    """
    left, top, right, bottom = font.getbbox(text, anchor=anchor)
    half = math.ceil(max(math.hypot(x, y) for x in (left, right) for y in (top, bottom))) + 1
    mask = Image.new("L", (2 * half, 2 * half), 0)
    ImageDraw.Draw(mask).text((half, half), text, fill=level, font=font, anchor=anchor)
    return mask.rotate(turn, resample=Image.Resampling.BICUBIC)


@cache
def _font(size: float) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(typeface.FILE), size)
