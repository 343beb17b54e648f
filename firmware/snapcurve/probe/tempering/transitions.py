"""What each event does in each state: the next state and the alarm, if any.

An event without a row is a mistake in this file, found by the tests. A row that leads back
to its own state without an alarm says that the event changes nothing there.
"""

# (state, event): (next state, alarm or None)
TABLE = {
    # A phase that rises or falls to its target.
    ("approach", "lead"): ("near", "near"),
    ("approach", "crossed"): ("dwell", "reached"),
    ("near", "crossed"): ("dwell", "reached"),
    ("dwell", "dwelt"): ("done", None),
    # One that holds a window. Before the window was reached for the first time it is an approach
    # from either side, and not being there is no alarm; "through": it went through the window too
    # fast to be seen inside.
    ("approach", "inside"): ("inside", "reached"),
    ("near", "inside"): ("inside", "reached"),
    ("approach", "through_above"): ("too_warm", "too_warm"),
    ("near", "through_above"): ("too_warm", "too_warm"),
    ("approach", "through_below"): ("too_cool", "too_cool"),
    ("near", "through_below"): ("too_cool", "too_cool"),
    ("inside", "above"): ("too_warm", "too_warm"),
    ("inside", "below"): ("too_cool", "too_cool"),
    ("too_warm", "inside"): ("inside", "back"),
    ("too_warm", "below"): ("too_cool", "too_cool"),
    ("too_cool", "inside"): ("inside", "back"),
    ("too_cool", "above"): ("too_warm", "too_warm"),
    # What makes a batch begin again: warmed above the window on purpose, after a failed test;
    # warmed so far that the seed goes; melted through once more.
    ("inside", "rewarmed"): ("approach", None),
    ("too_cool", "rewarmed"): ("approach", None),
    ("too_warm", "rewarmed"): ("approach", None),
    ("inside", "lost"): ("approach", "temper_lost"),
    ("too_cool", "lost"): ("approach", "temper_lost"),
    ("too_warm", "lost"): ("approach", "temper_lost"),
    ("approach", "remelted"): ("approach", "reached"),
    ("near", "remelted"): ("approach", "reached"),
    ("inside", "remelted"): ("approach", "reached"),
    ("too_cool", "remelted"): ("approach", "reached"),
    ("too_warm", "remelted"): ("approach", "reached"),
    # What changes nothing.
    ("approach", "far"): ("approach", None),
    ("approach", "above"): ("approach", None),
    ("approach", "below"): ("approach", None),
    ("near", "far"): ("near", None),
    ("near", "lead"): ("near", None),
    ("near", "above"): ("near", None),
    ("near", "below"): ("near", None),
    ("inside", "inside"): ("inside", None),
    ("too_warm", "above"): ("too_warm", None),
    ("too_cool", "below"): ("too_cool", None),
    ("dwell", "far"): ("dwell", None),
    ("dwell", "lead"): ("dwell", None),
    ("dwell", "crossed"): ("dwell", None),
}
AGAIN_EVENTS = ("rewarmed", "lost", "remelted")
