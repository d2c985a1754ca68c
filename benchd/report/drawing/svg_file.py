"""Shapes as SVG (W3C Scalable Vector Graphics 1.1)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from benchd.report.drawing.shapes import Discs, Fill, Layer, Place, Shape, Text


def svg_shapes(layers: Iterable[Layer], name: str) -> str:
    """The elements, layer by layer; identifiers begin with ``name``, so that they are a page's only ones."""
    written = []
    for number, layer in enumerate(layers):
        shapes = "\n".join(filter(None, map(_element, (*layer.lines_and_areas, *layer.texts))))
        if not shapes:
            continue
        if layer.clip is None:
            written.append(shapes)
            continue
        box, key = layer.clip, f"{name}-clip-{number}"
        size = f'x="{box.left:.2f}" y="{box.top:.2f}" width="{box.width:.2f}" height="{box.height:.2f}"'
        written.append(f'<clipPath id="{key}"><rect {size}/></clipPath>')
        written.append(f'<g clip-path="url(#{key})">\n{shapes}\n</g>')
    return "\n".join(written)


def _element(shape: Shape) -> str:
    if isinstance(shape, Text):
        return _text(shape)
    if isinstance(shape, Discs):
        path, line = "".join(_disc(one, shape.radius) for one in shape.centres), shape.line
        style = f"fill:none;stroke:{shape.colour};stroke-width:{line:.3g}" if line else f"fill:{shape.colour}"
        return _path(path, style, "opacity", shape.alpha)
    if isinstance(shape, Fill):
        path = "".join(_joined(one) + "Z" for one in shape.outlines)
        return _path(path, f"fill:{shape.colour}", "fill-opacity", shape.alpha)
    dash = " ".join(f"{part:.3g}" for part in shape.dash)
    style = f"fill:none;stroke:{shape.colour};stroke-width:{shape.width:.3g};stroke-linejoin:round"
    style += f";stroke-dasharray:{dash}" if dash else ""
    return _path("".join(map(_joined, shape.lines)), style, "stroke-opacity", shape.alpha)


def _path(path: str, style: str, opacity: str, alpha: float) -> str:
    style += f";{opacity}:{alpha:g}" if alpha < 1.0 else ""
    return f'<path d="{path}" style="{style}"/>' if path else ""


def _joined(places: Sequence[Place]) -> str:
    return "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in places)


def _disc(centre: Place, radius: float) -> str:
    x, y = centre
    arc = f"a{radius:g} {radius:g} 0 1 0 "
    return f"M{x - radius:.2f} {y:.2f}{arc}{2 * radius:g} 0{arc}{-2 * radius:g} 0Z"


def _text(shape: Text) -> str:
    x, y = shape.at
    place = f'x="{x:.2f}" y="{y:.2f}"'
    if shape.turn:
        place = f'transform="translate({x:.2f} {y:.2f}) rotate({-shape.turn:g})"'
    style = f"font-size:{shape.size:g}px;fill:{shape.colour}"
    style += f";text-anchor:{shape.across}" if shape.across != "start" else ""
    style += f";fill-opacity:{shape.alpha:g}" if shape.alpha < 1.0 else ""
    return f'<text {place} style="{style}">{escape(shape.text, quote=False)}</text>'
