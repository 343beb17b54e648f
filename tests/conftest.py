"""What holds for all tests."""

import os
import sys

from hypothesis import HealthCheck, settings

# As on any computer, modules are compiled once and not at each of the hundreds of starts.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

# On a busy machine an example takes as long as it takes: that says nothing of what is tested.
settings.register_profile(
    "however busy", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("however busy")


def pytest_xdist_auto_num_workers() -> int:
    """One more than there are cores: a test often waits for a process that it has started."""
    return (os.cpu_count() or 1) + 1
