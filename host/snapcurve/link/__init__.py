"""The host's end of the wire."""
