"""The box and its lid as solids. All lengths in millimetres.

The box lies with its floor on z = 0 and the inside starting at x = y = 0. USB enters through
the wall at low x, the probe through the wall at high x, away from the warm end of the board.
The sound leaves through a side wall so that nothing dripping from above gets in.
For another microcontroller board change BOARD_LENGTH, BOARD_WIDTH and USB_CENTRE.
"""

from manifold3d import Manifold, OpType

INSIDE_X, INSIDE_Y, INSIDE_Z = 92.0, 66.0, 34.0
WALL = 2.4
FLOOR = 2.4
BOARD_LENGTH, BOARD_WIDTH = 70.0, 50.0  # the perfboard
BOARD_X = 1.0  # its low-x edge, so that the USB socket reaches the wall
LEDGE_HEIGHT = 5.0
BOARD_SLACK = 0.4
# (y, z) of the USB plug: ledge 5, perfboard 1.6, socket 8.5, the plastic of the pins 2.5, board 1,
# half of the USB socket 1.5.
USB_CENTRE = (19.5, 20.1)
USB_OPENING = (14.0, 10.0)  # wide enough for the plug's moulding
PROBE_CENTRE = (33.0, 18.0)
PROBE_OPENING = (17.0, 9.0)  # cut to the socket you have
BUTTON_HOLE = 12.2
BUTTON_AT = (80.0, 14.0)  # beyond the perfboard: the button reaches 25 mm down
LIGHT_HOLE = 5.2
LIGHT_AT = (80.0, 52.0)
SOUND_HOLE = 2.0
BOSS_RADIUS = 4.0
SCREW_PILOT = 2.3  # for a 2.9 mm self-tapping screw
SCREW_CLEAR = 3.3
LID_THICKNESS = 2.4
LIP_DEPTH = 3.0
LIP_SLACK = 0.3
SEGMENTS = 32


def _block(low: tuple[float, float, float], high: tuple[float, float, float]) -> Manifold:
    size = (high[0] - low[0], high[1] - low[1], high[2] - low[2])
    return Manifold.cube(size).translate(low)


def _post(x: float, y: float, low_z: float, high_z: float, radius: float) -> Manifold:
    post = Manifold.cylinder(high_z - low_z, radius, radius, SEGMENTS)
    return post.translate((x, y, low_z))


def _rounded(low_z: float, high_z: float, grow: float, radius: float) -> Manifold:
    """The inside's outline grown by `grow`, with rounded upright edges."""
    corners = [
        _post(x, y, low_z, high_z, radius)
        for x in (radius - grow, INSIDE_X + grow - radius)
        for y in (radius - grow, INSIDE_Y + grow - radius)
    ]
    return Manifold.batch_hull(corners)


def screw_spots() -> list[tuple[float, float]]:
    """Centres of the four lid screws."""
    inset = BOSS_RADIUS - 0.5
    return [(x, y) for x in (inset, INSIDE_X - inset) for y in (inset, INSIDE_Y - inset)]


def _board_rests() -> Manifold:
    """Four corner rests: a ledge under the board and a guide at its long edges."""
    low_y = (INSIDE_Y - BOARD_WIDTH) / 2
    rests = []
    for x in (BOARD_X + 9.0, BOARD_X + BOARD_LENGTH - 13.0):
        for edge, outward in ((low_y, -1.0), (low_y + BOARD_WIDTH, 1.0)):
            y0, y1 = sorted((edge - 3.0 * outward, edge + 3.0 * outward))
            rests.append(_block((x, y0, 0.0), (x + 4.0, y1, LEDGE_HEIGHT)))
            g0, g1 = sorted((edge + BOARD_SLACK * outward, edge + 3.0 * outward))
            rests.append(_block((x, g0, 0.0), (x + 4.0, g1, LEDGE_HEIGHT + 4.0)))
    stop_x = BOARD_X + BOARD_LENGTH + BOARD_SLACK
    middle = INSIDE_Y / 2
    rests.append(_block((stop_x, middle - 3, 0.0), (stop_x + 3.0, middle + 3, LEDGE_HEIGHT + 4.0)))
    return Manifold.batch_boolean(rests, OpType.Add)


def _tie_bar() -> Manifold:
    """A bridge on the floor near the probe: the cable tie passes under it."""
    x, (y, _) = INSIDE_X - 12.0, PROBE_CENTRE
    bar = _block((x, y - 8.0, 0.0), (x + 4.0, y + 8.0, 7.0))
    return bar - _block((x - 1.0, y - 4.0, 2.0), (x + 5.0, y + 4.0, 4.5))


def box() -> Manifold:
    """The lower part with its openings."""
    outer = _rounded(-FLOOR, INSIDE_Z, WALL, 4.0)
    body = outer - _block((0, 0, 0), (INSIDE_X, INSIDE_Y, INSIDE_Z + 1))
    inner = _block((0, 0, -0.5), (INSIDE_X, INSIDE_Y, INSIDE_Z))
    for x, y in screw_spots():
        body += _post(x, y, -0.5, INSIDE_Z - LIP_DEPTH - LIP_SLACK, BOSS_RADIUS) ^ inner
    body += _board_rests() + _tie_bar()
    for x, y in screw_spots():
        body -= _post(x, y, INSIDE_Z - 18.0, INSIDE_Z + 1, SCREW_PILOT / 2)
    for x, (y, z), (width, height) in (
        (-WALL - 1, USB_CENTRE, USB_OPENING),
        (INSIDE_X - 1, PROBE_CENTRE, PROBE_OPENING),
    ):
        low = (x, y - width / 2, z - height / 2)
        body -= _block(low, (x + WALL + 2, y + width / 2, z + height / 2))
    for i in range(5):
        hole = Manifold.cylinder(WALL + 2, SOUND_HOLE / 2, SOUND_HOLE / 2, SEGMENTS)
        body -= hole.rotate((90, 0, 0)).translate((58.0 + 4.0 * i, INSIDE_Y + WALL + 1, 20.0))
    return body


def lid() -> Manifold:
    """The lid as printed: outer face on z = 0, lip upwards; mirrored in y when put on."""
    plate = _rounded(0.0, LID_THICKNESS, WALL, 4.0)
    low, slack = LID_THICKNESS - 0.5, LIP_SLACK
    lip = _block((slack, slack, low),
                 (INSIDE_X - slack, INSIDE_Y - slack, LID_THICKNESS + LIP_DEPTH))  # fmt: skip
    rim = 1.8
    lip -= _block((rim, rim, low - 1), (INSIDE_X - rim, INSIDE_Y - rim, 20.0))
    part = plate + lip
    for x, y in screw_spots():
        part += _post(x, y, low, LID_THICKNESS + LIP_DEPTH, BOSS_RADIUS) ^ _block(
            (slack, slack, 0), (INSIDE_X - slack, INSIDE_Y - slack, 20.0)
        )
    for x, y in screw_spots():
        part -= _post(x, y, -1, 20.0, SCREW_CLEAR / 2)
    for (x, y), hole in ((BUTTON_AT, BUTTON_HOLE), (LIGHT_AT, LIGHT_HOLE)):
        part -= _post(x, INSIDE_Y - y, -1, 20.0, hole / 2)
    return part
