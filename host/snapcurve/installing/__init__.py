"""The firmware onto a board: what is copied, how the board is reached, in which order."""
