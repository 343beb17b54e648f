"""From the board into the notebook."""
