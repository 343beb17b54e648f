"""The printable box: its shape, and the files made from it."""
