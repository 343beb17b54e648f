"""The board's wiring as data, and the tools that check it, draw it and box it."""
