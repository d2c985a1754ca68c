"""Gamut volume: the faces of the RGB cube in a colour space with lightness, and the volume that they enclose.

Method family of CIE 168:2005 and the IDMS gamut volume (from memory). The volume depends on the white of CIELAB,
so that every figure must name it. Any coordinates will do: CIELAB here, ICtCp for light of high dynamic range.
"""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.colour import itp

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
