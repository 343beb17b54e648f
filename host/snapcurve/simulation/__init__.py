"""The desk board and the bowl, person and baths that stand around it."""
