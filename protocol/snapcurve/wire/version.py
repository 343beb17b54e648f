"""The one version string of snapcurve: firmware, host and wheel all read it here."""

__version__ = "0.1.0"
