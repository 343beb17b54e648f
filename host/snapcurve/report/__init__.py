"""Charts, sheets and sound files."""
