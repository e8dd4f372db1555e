"""Property tests draw the same examples every time, without a clock and without a store on disk."""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "steady", derandomize=True, database=None, deadline=None, max_examples=60,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("steady")
