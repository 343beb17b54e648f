"""What holds for all tests."""

import os

from hypothesis import HealthCheck, settings

# On a busy machine an example takes as long as it takes: that says nothing of what is tested.
settings.register_profile(
    "however busy", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("however busy")


def pytest_xdist_auto_num_workers() -> int:
    """Twice as many as there are cores: a test often waits for a process that it has started, or
    for the time that a board takes."""
    return 2 * (os.cpu_count() or 1)
