"""The gamut volume of a screen in CIELAB: from the faces of the RGB cube as measured, or from its primaries."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.colour.target import Target
from benchd.analysis.colour.tone_curves import luminance_curve
from benchd.analysis.log.patch_values import NUDGE, PatchValues, of, xyz
from benchd.analysis.uncertainty.quantity import Quantity, absent, derived, scaled, with_note
from benchd.analysis.uncertainty.sources import EXACT
from benchd.analysis.uncertainty.widened import spanning
from benchd.measurements.gamut import volume
from benchd.measurements.gamut.results import GamutVolume

Array = colour.Array

COARSE = 9
"""Steps a side for the sensitivities of a modelled volume: they need no better than a hundredth."""
WHITES: tuple[volume.Coordinates, ...] = ("measured", "d50", "ictcp")
WORDS = {
    "measured": "the measured white as Lab white, no adaptation",
    "d50": "Lab white D50, after Bradford adaptation from the measured white",
    "ictcp": "ITU-R BT.2100 in absolute cd/m2, scaled as in BT.2124 (720 I, 360 Ct, 720 Cp); it has no white",
}


class Volumes(NamedTuple):
    """Volumes of one block, and over those of each space, in the order of the spaces."""

    words: str
    volumes: tuple[GamutVolume, ...]
    against_spaces: tuple[Quantity, ...]


def volumes(
    patches: Mapping[str, PatchValues], names: Sequence[str], block: Mapping[str, Any], spaces: Sequence[Target]
) -> Volumes:
    """Gamut volume under each white of `WHITES`, and the first of them over the volume of each space."""
    count = block.get("volume_grid")
    figures = _measured(patches, names, int(count), block) if count else _modelled(patches)
    words = _words(figures, count, block, spaces)
    own = figures.found[0]
    over = []
    for space in spaces:
        whole = _space_volume(space, count, block)
        over.append(scaled(own, 100.0 / whole, "%") if own.present else absent("%", own.why))
    found = tuple(GamutVolume(name, WORDS[name], one) for name, one in zip(WHITES, figures.found, strict=True))
    return Volumes(words, found, tuple(over))


class _Figures(NamedTuple):
    """The volume under each white, and how black was taken where the volume needs it."""

    found: tuple[Quantity, ...]
    black: str = ""


def _words(figures: _Figures, count: int | None, block: Mapping[str, Any], spaces: Sequence[Target]) -> str:
    if not count:
        words = "additive model: red, green and blue in all amounts, black a part of each; not measured between them"
        return f"{words}; {figures.black}" if figures.black else words
    words = f"measured: {count} x {count} colours on each face of the RGB cube"
    if spaces:
        fine = volume.lab_volume(volume.additive_faces(_matrix(spaces[0])), colour.xyz_from_xy(spaces[0].white))
        low = 100.0 * (1.0 - _space_volume(spaces[0], count, block) / fine)
        label = spaces[0].about or spaces[0].name
        words += f"; flat between them, which takes {low:.1f} % from the volume of {label} and much the same here"
    return words


def _measured(
    patches: Mapping[str, PatchValues], names: Sequence[str], count: int, block: Mapping[str, Any]
) -> _Figures:
    levels = _levels(count, int(block.get("bits", 8)))
    used = {name: of(patches, name) for name in names}
    unusable = [(name, one) for name, one in used.items() if not one.usable and name != "black"]
    if unusable:
        name, one = unusable[0]
        nothing = absent("1", f"{name}: {one.why}" if not one.why.startswith(name) else one.why)
        return _Figures((nothing,) * len(WHITES))
    black, note = _black(used["black"])
    codes = {one.code: index for index, one in enumerate(used.values())}
    rows = np.array([black if name == "black" else one.xyl for name, one in used.items()])
    index = np.rint(volume.face_places(count) * (count - 1)).astype(int)
    where = np.array([codes[(r, g, b)] for r, g, b in np.asarray(levels)[index].reshape(-1, 3).tolist()])
    white = list(used).index("white")
    parts = [part for name, one in used.items() for part in _parts(name, one, note)]
    found, corners = [], where.reshape(6, count, count)
    for name in WHITES:
        value, slopes = _of_mesh(rows, corners, white, name)
        figure = derived(value, "1", list(zip(slopes.reshape(-1).tolist(), parts, strict=True)))
        lit = [_with_black(rows, list(used).index("black"), most) for most in _most_light(used["black"])]
        found.append(spanning(figure, [_of_mesh(one, corners, white, name)[0] for one in lit]))
    return _Figures(tuple(_noted(one, note) for one in found), note)


def _of_mesh(rows: Array, where: Any, white: int, name: volume.Coordinates) -> tuple[float, Array]:
    """Volume of measured faces, and its derivatives (patches, 3) by x, y and luminance of each patch.

    ``rows`` (patches, 3): x, y, luminance; ``where`` (6, n, n): the patch of each corner; ``white``: its row.
    """

    def lab(several: Array, seen_white: Array) -> Array:
        return volume.coordinates(xyz(several)[where], xyz(seen_white), name)

    at = lab(rows, rows[white])
    by_corner = volume.gradient(at)
    slopes = np.zeros_like(rows)
    steps = _step(rows)
    for axis in range(3):
        shift = np.zeros(3)
        shift[axis] = 1.0
        moved = (lab(rows + shift * steps, rows[white]) - lab(rows - shift * steps, rows[white])) / 2.0
        np.add.at(slopes[:, axis], where, (by_corner * moved).sum(axis=-1))
        slopes[:, axis] /= steps[:, axis]
        # White is a colour of the mesh and the Lab white of all others.
        step = shift * steps[white]
        high, low = lab(rows, rows[white] + step), lab(rows, rows[white] - step)
        slopes[white, axis] += float((by_corner * (high - low)).sum()) / (2.0 * steps[white, axis])
    return float(volume.enclosed(at)), slopes


def _step(rows: Array) -> Array:
    return np.where(rows == 0.0, 1e-9, NUDGE * np.abs(rows))


def _modelled(patches: Mapping[str, PatchValues]) -> _Figures:
    names = ("red", "green", "blue", "white", "black")
    used = [of(patches, name) for name in names]
    if unusable := next((one for one in used[:4] if not one.usable), None):
        nothing = absent("1", unusable.why)
        return _Figures((nothing,) * len(WHITES))
    black, note = _black(used[4])
    rows = np.array([*(one.xyl for one in used[:4]), black])
    parts = [part for name, one in zip(names, used, strict=True) for part in _parts(name, one, note)]

    def both(several: Array, count: int = COARSE) -> list[Array]:
        light = xyz(several)
        faces = volume.additive_faces(light[..., :3, :], light[..., 4, :], count)
        return [volume.enclosed(volume.coordinates(faces, light[..., 3, :], name)) for name in WHITES]

    values = both(rows, volume.MODEL_STEPS)
    steps = _step(rows)
    shift = np.eye(rows.size).reshape(rows.size, *rows.shape) * steps
    found = []
    for value, high, low in zip(values, both(rows + shift), both(rows - shift), strict=True):
        slopes = (high - low) / (2.0 * steps.reshape(-1))
        found.append(derived(float(value), "1", list(zip(slopes.tolist(), parts, strict=True))))
    for most in _most_light(used[4]):
        lit = both(_with_black(rows, 4, most), volume.MODEL_STEPS)
        found = [spanning(figure, [float(value)]) for figure, value in zip(found, lit, strict=True)]
    return _Figures(tuple(_noted(one, note) for one in found), note)


def _parts(name: str, one: PatchValues, note: str) -> Sequence[Quantity]:
    if name == "black" and note:
        return [Quantity(0.0, part.unit, part.n, 0.0, records=part.records, sources=EXACT) for part in one.parts]
    return one.parts


def _black(black: PatchValues) -> tuple[tuple[float, float, float], str]:
    """x, y and luminance of black, and a note where it is no value: then it is taken as nothing."""
    if black.usable:
        return black.xyl, ""
    return (1.0 / 3.0, 1.0 / 3.0, 0.0), f"black taken as 0: {black.why}"


def _most_light(black: PatchValues) -> list[float]:
    """The luminance in cd/m2 that a black which is only a bound may have at most; none where it is a value."""
    most = black.luminance
    return [most.value] if not black.usable and most.bound == "below" and most.value is not None else []


def _with_black(rows: Array, row: int, luminance_cd_m2: float) -> Array:
    found = rows.copy()
    found[row, 2] = luminance_cd_m2
    return found


def _noted(figure: Quantity, note: str) -> Quantity:
    """The volume without a scatter: that of x, y and Y of one reading goes together, and much of it cancels here.

    A sum of squares of their parts would say several times too much. The uncertainty knows what goes together.
    """
    figure = figure._replace(s=None)
    return with_note(figure, note) if note else figure


def _levels(count: int, bits: int) -> list[int]:
    """Equal steps of the code, rounded half up, as the plan made them."""
    top = (1 << bits) - 1
    return [(2 * index * top + (count - 1)) // (2 * (count - 1)) for index in range(count)]


def _space_volume(space: Target, count: int | None, block: Mapping[str, Any]) -> float:
    """Volume of a space with its own white, by the same mesh as the screen's."""
    white = colour.xyz_from_xy(space.white)
    if not count:
        return float(volume.lab_volume(volume.additive_faces(_matrix(space)), white))
    bits = int(block.get("bits", 8))
    levels = np.array(_levels(count, bits)) / ((1 << bits) - 1)
    index = np.rint(volume.face_places(count) * (count - 1)).astype(int)
    linear = luminance_curve(space, 1.0, 0.0)(levels[index])
    return float(volume.lab_volume(linear @ _matrix(space), white))


def _matrix(space: Target) -> Array:
    """Rows XYZ of red, green and blue."""
    return colour.rgb_to_xyz_matrix(space.red, space.green, space.blue, space.white).T
