"""How values, files and words are shown and read: units, settings, dates, plain text."""
