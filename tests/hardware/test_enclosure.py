"""The printable box: stored files against the shape, and whether the parts fit."""

import struct

import numpy as np
import pytest
from manifold3d import Manifold
from PIL import Image

from hardware import netlist
from hardware.enclosure import make, shape

HERE = netlist.HERE


@pytest.fixture(scope="module")
def tables():
    return netlist.load()


@pytest.mark.parametrize(("name", "build"), [("box", shape.box), ("lid", shape.lid)])
def test_that_the_stored_part_is_the_shape_and_prints_as_one_piece(name, build):
    solid = build()
    assert len(solid.decompose()) == 1
    stored = (HERE / "enclosure" / f"{name}.stl").read_bytes()
    (count,) = struct.unpack_from("<I", stored, 80)
    assert len(stored) == 84 + 50 * count < 300_000
    row = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("pad", "<u2")])
    corners = np.frombuffer(stored, row, offset=84)["corners"].astype(float)
    # Volume by the divergence theorem, from the file alone.
    volume = np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6
    assert volume == pytest.approx(solid.volume(), rel=1e-5)
    low, high = corners.min(axis=(0, 1)), corners.max(axis=(0, 1))
    assert [*low, *high] == pytest.approx(solid.bounding_box(), abs=1e-4)
    # Closed: every directed edge has its opposite, once.
    points = [tuple(p) for p in np.round(corners.reshape(-1, 3), 5)]
    edges = [(points[i + a], points[i + b]) for i in range(0, len(points), 3)
             for a, b in ((0, 1), (1, 2), (2, 0))]  # fmt: skip
    assert sorted(edges) == sorted((b, a) for a, b in edges)


def test_that_the_parts_fit_into_the_box():
    box = shape.box()
    y = (shape.INSIDE_Y - shape.BOARD_WIDTH) / 2
    board = Manifold.cube((shape.BOARD_LENGTH, shape.BOARD_WIDTH, 1.6)).translate(
        (shape.BOARD_X, y, shape.LEDGE_HEIGHT + 0.01)
    )
    assert (box ^ board).volume() == pytest.approx(0.0, abs=1e-3)
    # Sockets 8.5 mm, the plastic body of the pins 2.5 mm (2.54 mm headers), Pico 21 x 51 mm and
    # 1 mm thick, its USB socket 8 x 3 mm at the edge.
    top = shape.LEDGE_HEIGHT + 1.6 + 8.5 + 2.5
    usb_y, usb_z = shape.USB_CENTRE
    assert usb_z == pytest.approx(top + 1.0 + 1.5, abs=0.5)
    # The moulding of a micro-B plug, 11 x 7 mm, comes in through the wall.
    plug = Manifold.cube((20, 11, 7)).translate((-15, usb_y - 5.5, top + 1.0 + 1.5 - 3.5))
    assert (box ^ plug).volume() == pytest.approx(0.0, abs=1e-3)
    pico = Manifold.cube((51, 21, 1)).translate((shape.BOARD_X, usb_y - 10.5, top))
    assert (box ^ pico).volume() == pytest.approx(0.0, abs=1e-3)
    # A 12 mm button: 8 mm radius of nut, 25 mm deep; clear of board, stop and screw bosses.
    x, by = shape.BUTTON_AT
    button = Manifold.cylinder(25, 8, 8, 32).translate((x, by, shape.INSIDE_Z - 25))
    assert (box ^ button).volume() == pytest.approx(0.0, abs=1e-3)
    assert x - 8 > shape.BOARD_X + shape.BOARD_LENGTH
    assert (button ^ board).volume() == 0.0


def test_that_an_opening_as_low_as_the_sockets_alone_would_be_found(monkeypatch):
    """As it was: the plastic body of the pins had been forgotten."""
    monkeypatch.setattr(shape, "USB_CENTRE", (19.5, 17.5))
    with pytest.raises(AssertionError):
        test_that_the_parts_fit_into_the_box()


def test_that_the_list_asks_for_a_box_of_the_size_of_ours(tables):
    inside = (shape.INSIDE_X, shape.INSIDE_Y, shape.INSIDE_Z)
    assert "{:g} x {:g} x {:g} mm inside".format(*inside) in tables.parts["M4"].row["alternatives"]


def test_that_the_lid_closes_on_the_box():
    lid = shape.lid().rotate((180, 0, 0))
    lid = lid.translate((0, shape.INSIDE_Y, shape.INSIDE_Z + shape.LID_THICKNESS))
    assert (lid ^ shape.box()).volume() == pytest.approx(0.0, abs=1e-3)
    x, y = shape.BUTTON_AT
    assert lid.slice(shape.INSIDE_Z + 1.0).area() > 0
    drill = Manifold.cylinder(50, 6, 6, 32).translate((x, y, 10))
    assert (lid ^ drill).volume() == 0.0


def test_that_the_picture_is_small_and_shows_both_parts():
    path = HERE / "enclosure" / "enclosure.png"
    assert path.stat().st_size < 300_000
    stored = np.asarray(Image.open(path).convert("RGB")).astype(float)
    fresh = np.asarray(make.picture().convert("RGB")).astype(float)
    assert stored.shape == fresh.shape
    assert np.abs(stored - fresh).mean() < 1.0
    blue = (stored[:, :, 2] > stored[:, :, 0] + 20).mean()
    sand = (stored[:, :, 0] > stored[:, :, 2] + 20).mean()
    assert blue > 0.1
    assert sand > 0.1
