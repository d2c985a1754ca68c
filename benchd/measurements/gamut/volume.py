"""Gamut volume: the faces of the RGB cube in a colour space with lightness, and the volume that they enclose.

Method family of CIE 168:2005 and the IDMS gamut volume (from memory). The volume depends on the white of CIELAB,
so that every figure must name it. Any coordinates will do: CIELAB here, ICtCp for light of high dynamic range.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal, NamedTuple

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.colour import itp
from benchd.analysis.colour.target import Target
from benchd.analysis.colour.tone_curves import luminance_curve
from benchd.analysis.log.patch_values import NUDGE, PatchValues, patch_of, xyz
from benchd.analysis.uncertainty.quantity import Quantity, absent, derived, scaled, with_note
from benchd.analysis.uncertainty.sources import EXACT
from benchd.analysis.uncertainty.widened import spanning
from benchd.measurements.gamut.results import GamutVolume
from benchd.patch.model import equal_codes

Array = colour.Array

D50: Array = np.array([0.96422, 1.0, 0.82521])
"""XYZ of the D50 of ICC.1 (profile connection space)."""
MODEL_STEPS, MODEL_EXPONENT = 33, 2.4
"""Steps a side of a modelled face, at (i / (n - 1)) ** 2.4 in linear light: even enough in lightness."""


def face_places(count: int) -> Array:
    """Places on the six faces of the unit cube (6, count, count, 3), fractions; seen from outside all run alike."""
    steps = np.linspace(0.0, 1.0, count)
    first, second = np.meshgrid(steps, steps, indexing="ij")
    faces = []
    for axis in range(3):
        for end in (0.0, 1.0):
            parts: list[Array] = [np.full_like(first, end)] * 3
            # The order of the other two axes turns with the end, so that all faces have one orientation.
            one, other = (first, second) if end else (second, first)
            parts[(axis + 1) % 3], parts[(axis + 2) % 3] = one, other
            faces.append(np.stack(parts, axis=-1))
    return np.stack(faces)


def enclosed(faces: Array) -> Array:
    """Volume (...) enclosed by a mesh of six faces (..., 6, n, n, 3): |sum of det(p, q, r)| / 6 over its triangles."""
    a, b = faces[..., :-1, :-1, :], faces[..., 1:, :-1, :]
    c, d = faces[..., 1:, 1:, :], faces[..., :-1, 1:, :]
    # Both triangles of a mesh's cell have the side from a to c.
    determinants = np.einsum("...i,...i->...", np.cross(a, c), d - b)
    return np.asarray(np.abs(determinants.sum(axis=(-3, -2, -1))) / 6.0)


def gradient(faces: Array) -> Array:
    """Derivatives of `enclosed` by the coordinates of each corner of one mesh (6, n, n, 3), of the same shape.

    A colour on an edge of the cube is a corner of two faces, one at a corner of three: theirs are to be added.
    """
    a, b = faces[:, :-1, :-1], faces[:, 1:, :-1]
    c, d = faces[:, 1:, 1:], faces[:, :-1, 1:]
    across, along = np.cross(a, c), d - b
    found = np.zeros_like(faces)
    found[:, :-1, 1:] += across
    found[:, 1:, :-1] -= across
    found[:, :-1, :-1] += np.cross(c, along)
    found[:, 1:, 1:] += np.cross(along, a)
    return np.asarray(np.sign(np.einsum("...i,...i->...", across, along).sum()) * found / 6.0)


def additive_faces(primaries: Array, black: Any = 0.0, count: int = MODEL_STEPS) -> Array:
    """XYZ (6, count, count, 3) of the faces of an additive screen.

    ``primaries``  rows XYZ of red, green and blue (..., 3, 3), as read; ``black``: XYZ of black (..., 3), a part of
    each of them. Axes before those come first in the result.
    """
    places = face_places(count) ** MODEL_EXPONENT
    rows = np.asarray(primaries, dtype=np.float64)
    dark = np.broadcast_to(np.asarray(black, dtype=np.float64), (*rows.shape[:-2], 3))
    light = places.reshape(-1, 3) @ (rows - dark[..., None, :]) + dark[..., None, :]
    return np.asarray(light.reshape(*rows.shape[:-2], *places.shape))


def lab_faces(faces: Array, white: Any, *, to_d50: bool = False) -> Array:
    """L*, a*, b* (..., 6, n, n, 3) of faces in XYZ of that shape, ``white`` (..., 3) being the Lab white.

    ``to_d50``: faces are first adapted from ``white`` to D50 (Bradford), which then is the Lab white.
    """
    white = np.asarray(white, dtype=np.float64)[..., None, None, None, :]
    if not to_d50:
        return colour.lab_from_xyz(faces, white)
    return colour.lab_from_xyz(colour.adapted(faces, white, D50), D50)


Coordinates = Literal["measured", "d50", "ictcp"]


def coordinates(faces: Array, white: Any, name: Coordinates) -> Array:
    """Faces in CIELAB with ``white`` as Lab white, in CIELAB after adaptation to D50, or in ICtCp as BT.2124 scales it.

    XYZ are in cd/m2: ICtCp is of absolute light, and uses no white.
    """
    if name == "ictcp":
        return np.asarray(itp.ictcp(faces) * itp.SCALE)
    return lab_faces(faces, white, to_d50=name == "d50")


def lab_volume(faces: Array, white: Any, *, to_d50: bool = False) -> Array:
    """Volume (...) in CIELAB of `lab_faces`."""
    return enclosed(lab_faces(faces, white, to_d50=to_d50))


COARSE = 9
"""Steps a side for the sensitivities of a modelled volume: they need no better than a hundredth."""
WHITES: tuple[Coordinates, ...] = ("measured", "d50", "ictcp")
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
    over = [
        scaled(own, 100.0 / _space_volume(space, count, block), "%") if own.present else absent("%", own.why)
        for space in spaces
    ]
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
        fine = lab_volume(additive_faces(_matrix(spaces[0])), colour.xyz_from_xy(spaces[0].white))
        low = 100.0 * (1.0 - _space_volume(spaces[0], count, block) / fine)
        label = spaces[0].about or spaces[0].name
        words += f"; flat between them, which takes {low:.1f} % from the volume of {label} and much the same here"
    return words


def _measured(
    patches: Mapping[str, PatchValues], names: Sequence[str], count: int, block: Mapping[str, Any]
) -> _Figures:
    levels = equal_codes(count, int(block.get("bits", 8)))
    used = {name: patch_of(patches, name) for name in names}
    unusable = [(name, one) for name, one in used.items() if not one.usable and name != "black"]
    if unusable:
        name, one = unusable[0]
        nothing = absent("1", f"{name}: {one.why}" if not one.why.startswith(name) else one.why)
        return _Figures((nothing,) * len(WHITES))
    black, note = _black(used["black"])
    codes = {one.code: index for index, one in enumerate(used.values())}
    rows = np.array([black if name == "black" else one.xyl for name, one in used.items()])
    index = np.rint(face_places(count) * (count - 1)).astype(int)
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


def _of_mesh(rows: Array, where: Any, white: int, name: Coordinates) -> tuple[float, Array]:
    """Volume of measured faces, and its derivatives (patches, 3) by x, y and luminance of each patch.

    ``rows`` (patches, 3): x, y, luminance; ``where`` (6, n, n): the patch of each corner; ``white``: its row.
    """

    def lab(several: Array, seen_white: Array) -> Array:
        return coordinates(xyz(several)[where], xyz(seen_white), name)

    at = lab(rows, rows[white])
    by_corner = gradient(at)
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
    return float(enclosed(at)), slopes


def _step(rows: Array) -> Array:
    return np.where(rows == 0.0, 1e-9, NUDGE * np.abs(rows))


def _modelled(patches: Mapping[str, PatchValues]) -> _Figures:
    names = ("red", "green", "blue", "white", "black")
    used = [patch_of(patches, name) for name in names]
    if unusable := next((one for one in used[:4] if not one.usable), None):
        nothing = absent("1", unusable.why)
        return _Figures((nothing,) * len(WHITES))
    black, note = _black(used[4])
    rows = np.array([*(one.xyl for one in used[:4]), black])
    parts = [part for name, one in zip(names, used, strict=True) for part in _parts(name, one, note)]

    def both(several: Array, count: int = COARSE) -> list[Array]:
        light = xyz(several)
        faces = additive_faces(light[..., :3, :], light[..., 4, :], count)
        return [enclosed(coordinates(faces, light[..., 3, :], name)) for name in WHITES]

    values = both(rows, MODEL_STEPS)
    steps = _step(rows)
    shift = np.eye(rows.size).reshape(rows.size, *rows.shape) * steps
    found = []
    for value, high, low in zip(values, both(rows + shift), both(rows - shift), strict=True):
        slopes = (high - low) / (2.0 * steps.reshape(-1))
        found.append(derived(float(value), "1", list(zip(slopes.tolist(), parts, strict=True))))
    for most in _most_light(used[4]):
        lit = both(_with_black(rows, 4, most), MODEL_STEPS)
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
    """The volume without a standard deviation: errors of x, y and Y of one reading are correlated and cancel in part.

    A sum of squares of their parts would be several times too large. The uncertainty includes the correlation.
    """
    figure = figure._replace(s=None)
    return with_note(figure, note) if note else figure


def _space_volume(space: Target, count: int | None, block: Mapping[str, Any]) -> float:
    """Volume of a space with its own white, by the same mesh as the screen's."""
    white = colour.xyz_from_xy(space.white)
    if not count:
        return float(lab_volume(additive_faces(_matrix(space)), white))
    bits = int(block.get("bits", 8))
    levels = np.array(equal_codes(count, bits)) / ((1 << bits) - 1)
    index = np.rint(face_places(count) * (count - 1)).astype(int)
    linear = luminance_curve(space, 1.0, 0.0)(levels[index])
    return float(lab_volume(linear @ _matrix(space), white))


def _matrix(space: Target) -> Array:
    """Rows XYZ of red, green and blue."""
    return colour.rgb_to_xyz_matrix(space.red, space.green, space.blue, space.white).T
