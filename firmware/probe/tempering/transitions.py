"""What each word does in each state: the next state and the alarm, if any.

An event without a row is a mistake in this file, found by the tests. A row that leads back
to its own state without an alarm says that the event changes nothing there.

A text, because a board has little memory: as a dictionary of tuples it takes three times
as much.
"""

# state, event, next state, alarm. First a phase that rises or falls to its target; then one
# that holds a window. Before the window was reached for the first time it is an approach
# from either side, and not being there is no alarm; "through": it went through the window too
# fast to be seen inside. Then what makes a batch begin again: warmed above the window on
# purpose, after a failed test; warmed so far that the seed goes; melted through once more.
TABLE = """
approach lead near near
approach crossed dwell reached
near crossed dwell reached
dwell dwelt done -
approach inside inside reached
near inside inside reached
approach through_above too_warm too_warm
near through_above too_warm too_warm
approach through_below too_cool too_cool
near through_below too_cool too_cool
inside above too_warm too_warm
inside below too_cool too_cool
too_warm inside inside back
too_warm below too_cool too_cool
too_cool inside inside back
too_cool above too_warm too_warm
inside rewarmed approach -
too_cool rewarmed approach -
too_warm rewarmed approach -
inside lost approach temper_lost
too_cool lost approach temper_lost
too_warm lost approach temper_lost
approach remelted approach reached
near remelted approach reached
too_warm remelted approach reached
approach far approach -
approach above approach -
approach below approach -
near far near -
near lead near -
near above near -
near below near -
inside inside inside -
too_warm above too_warm -
too_cool below too_cool -
dwell far dwell -
dwell lead dwell -
dwell crossed dwell -
"""
AGAIN_EVENTS = ("rewarmed", "lost", "remelted")


def transition(state: str, event: str):
    """``(next state, alarm or None)``; KeyError for a pair the table does not know."""
    begin = TABLE.find("\n%s %s " % (state, event)) + 1
    if not begin:
        raise KeyError((state, event))
    _, _, following, alarm = TABLE[begin : TABLE.find("\n", begin)].split(" ")
    return following, None if alarm == "-" else alarm
