"""When the probe was in the chocolate, and when out of it."""

from snapcurve.recording.curve import Event


def out_spans(events: list[Event], end_s: float) -> list[tuple[float, float]]:
    """When the probe was out of the chocolate, from the board's own alarms."""
    spans = []
    since_s: float | None = 0.0  # a first "in" tells that it was out before
    seen = False
    for event in events:
        if event.name == "probe_out" and (since_s is None or not seen):
            since_s, seen = event.offset_ms / 1000, True
        elif event.name == "probe_in":
            if since_s is not None:
                spans.append((since_s, event.offset_ms / 1000))
            since_s, seen = None, True
    if seen and since_s is not None:
        spans.append((since_s, end_s))
    return [(start, end) for start, end in spans if end > start]
