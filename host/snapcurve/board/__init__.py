"""The board: its port, the link to it, downloads, and its firmware."""
