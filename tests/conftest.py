"""What holds for all tests."""

from hypothesis import HealthCheck, settings

# On a busy machine an example takes as long as it takes: that says nothing of what is tested.
settings.register_profile(
    "however busy", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("however busy")
