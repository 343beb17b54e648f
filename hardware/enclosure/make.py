"""Writes box.stl, lid.stl and enclosure.png: ``python -m hardware.enclosure.make``.

The picture is drawn by a small depth-buffer renderer, since a painter's ordering of long
triangles (which is what plotting libraries do) shows walls through each other.
"""

import struct
import sys
from pathlib import Path

import numpy as np
from manifold3d import Manifold
from PIL import Image

from hardware.enclosure import shape

HERE = Path(__file__).resolve().parent
LIGHT = np.array([0.35, -0.55, 0.76])
VIEW_TURN_DEG, VIEW_RISE_DEG = -35.0, 38.0
WIDTH, HEIGHT, OVERSAMPLE = 1000, 620, 2


def triangles(solid: Manifold) -> np.ndarray:
    """The solid's surface as an array (n, 3 corners, 3 coordinates) of float32 millimetres."""
    mesh = solid.to_mesh()
    return np.asarray(mesh.vert_properties[:, :3], np.float32)[np.asarray(mesh.tri_verts)]


def normals(faces: np.ndarray) -> np.ndarray:
    """Unit outward normals, one per triangle; zero for a triangle without area."""
    cross = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
    length = np.linalg.norm(cross, axis=1, keepdims=True)
    return np.divide(cross, length, out=np.zeros_like(cross), where=length > 0)


def stl(solid: Manifold) -> bytes:
    """Binary STL: 80 bytes of header, count, then normal, corners and two zero bytes each."""
    faces = triangles(solid)
    out = bytearray(b"snapcurve enclosure, millimetres".ljust(80, b"\0"))
    out += struct.pack("<I", len(faces))
    for normal, face in zip(normals(faces), faces, strict=True):
        out += struct.pack("<12fH", *normal, *face.ravel(), 0)
    return bytes(out)


def _camera() -> np.ndarray:
    turn, rise = np.radians([VIEW_TURN_DEG, VIEW_RISE_DEG])
    right = np.array([np.cos(turn), np.sin(turn), 0.0])
    into = np.array([-np.sin(turn) * np.cos(rise), np.cos(turn) * np.cos(rise), -np.sin(rise)])
    return np.array([right, np.cross(right, into), into])


def render(parts: list[tuple[np.ndarray, tuple[int, int, int]]]) -> Image.Image:
    """A shaded picture, parallel projection, of parts given as (triangles, colour)."""
    camera = _camera()
    width, height = WIDTH * OVERSAMPLE, HEIGHT * OVERSAMPLE
    seen = [(faces @ camera.T, normals(faces), colour) for faces, colour in parts]
    corners = np.concatenate([faces.reshape(-1, 3) for faces, _, _ in seen])
    low, high = corners[:, :2].min(axis=0), corners[:, :2].max(axis=0)
    scale = 0.94 * min(width / (high[0] - low[0]), height / (high[1] - low[1]))
    centre = (low + high) / 2
    depth = np.full((height, width), np.inf)
    image = np.full((height, width, 3), 255.0)
    for faces, facing, colour in seen:
        xs = (faces[:, :, 0] - centre[0]) * scale + width / 2
        ys = height / 2 - (faces[:, :, 1] - centre[1]) * scale
        shade = 0.45 + 0.55 * np.clip(facing @ LIGHT, 0, 1)
        for x, y, z, bright in zip(xs, ys, faces[:, :, 2], shade, strict=True):
            _fill(image, depth, np.stack([x, y, z]), np.array(colour) * bright)
    picture = Image.fromarray(np.clip(image, 0, 255).astype(np.uint8))
    return picture.resize((WIDTH, HEIGHT), Image.Resampling.LANCZOS).quantize(64)


def _fill(image: np.ndarray, depth: np.ndarray, tri: np.ndarray, colour: np.ndarray) -> None:
    """Paint one triangle (rows x, y, z; one column per corner) where it is nearest."""
    (xa, xb, xc), (ya, yb, yc), z = tri
    area = (xb - xa) * (yc - ya) - (xc - xa) * (yb - ya)
    if abs(area) < 1e-9:
        return
    x0, x1 = max(int(tri[0].min()), 0), min(int(tri[0].max()) + 2, image.shape[1])
    y0, y1 = max(int(tri[1].min()), 0), min(int(tri[1].max()) + 2, image.shape[0])
    y, x = np.mgrid[y0:y1, x0:x1]
    b = ((x - xa) * (yc - ya) - (xc - xa) * (y - ya)) / area
    c = ((xb - xa) * (y - ya) - (x - xa) * (yb - ya)) / area
    at = z[0] + b * (z[1] - z[0]) + c * (z[2] - z[0])
    nearer = (b >= -1e-6) & (c >= -1e-6) & (b + c <= 1 + 1e-6) & (at < depth[y0:y1, x0:x1])
    depth[y0:y1, x0:x1][nearer] = at[nearer]
    image[y0:y1, x0:x1][nearer] = colour


def picture() -> Image.Image:
    """Box and lid side by side as they lie on the printer, seen from the front."""
    box, lid = shape.box(), shape.lid()
    beside = lid.translate((0.0, -shape.INSIDE_Y - 16.0, -shape.FLOOR))
    return render([(triangles(box), (120, 160, 200)), (triangles(beside), (205, 175, 120))])


def main() -> int:
    """Write the two STL files and the picture beside this file."""
    (HERE / "box.stl").write_bytes(stl(shape.box()))
    (HERE / "lid.stl").write_bytes(stl(shape.lid()))
    picture().save(HERE / "enclosure.png", optimize=True)
    print("wrote box.stl, lid.stl and enclosure.png")
    return 0


if __name__ == "__main__":
    sys.exit(main())
