"""The firmware's files made ready for a board: found, joined, named shortly, compiled."""
