"""From temperatures to what the person at the bowl should hear. Pure: no input or output."""
