"""A camera with a lens: from world points to pixels, and from pixels back to a plane.

World coordinates are millimetres, x to the right and y up on the pages, z towards the camera. A pose is three numbers of a
rotation vector and the place of the world's origin as the camera sees it; the camera looks along +z, y down. The lens has
radial distortion of two terms (Brown 1971, Photogrammetric Engineering 37, 855-866), as OpenCV's k1 and k2.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import FloatArray

FILM_DIAGONAL_MM = 43.267
"""Diagonal of 35 mm film, 36 by 24 mm."""


class Camera(NamedTuple):
    """A camera and where it stands.

    focal: focal length [px]
    centre: principal point [2] in px
    radial: distortion k1, k2 [2]
    rotation: from world to camera [3, 3]
    shift: the world's origin in camera coordinates [3] in mm
    """

    focal: float
    centre: FloatArray
    radial: FloatArray
    rotation: FloatArray
    shift: FloatArray

    @property
    def place(self) -> FloatArray:
        """Where the camera stands [3] in world mm."""
        return -self.rotation.T @ self.shift


def rotation_of(vector: FloatArray) -> FloatArray:
    """The rotation matrix of a rotation vector [rad] (Rodrigues)."""
    angle = float(np.linalg.norm(vector))
    x, y, z = vector if angle < 1e-12 else vector / angle
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    if angle < 1e-12:
        return np.eye(3) + cross
    return np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross


def seen(camera: Camera, points: FloatArray) -> FloatArray:
    """Pixels [N, 2] of world points [N, 3]."""
    p = points @ camera.rotation.T + camera.shift
    flat = p[:, :2] / p[:, 2:]
    r2 = np.sum(flat**2, axis=1, keepdims=True)
    return flat * (1.0 + camera.radial[0] * r2 + camera.radial[1] * r2 * r2) * camera.focal + camera.centre


def on_plane(camera: Camera, pixels: FloatArray, height: float) -> FloatArray:
    """World x and y [N, 2] where the rays of pixels [N, 2] meet the plane z = height [mm]."""
    bent = (pixels - camera.centre) / camera.focal
    flat = bent
    for _ in range(6):
        r2 = np.sum(flat**2, axis=1, keepdims=True)
        flat = bent / (1.0 + camera.radial[0] * r2 + camera.radial[1] * r2 * r2)
    way = np.column_stack([flat, np.ones(len(flat))]) @ camera.rotation
    place = camera.place
    reach = (height - place[2]) / way[:, 2]
    return place[:2] + reach[:, None] * way[:, :2]
