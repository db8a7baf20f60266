"""Settings shared by all tests: hypothesis repeats the same examples wherever CI is set."""

import os

from hypothesis import HealthCheck, settings

settings.register_profile("ci", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("bench", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("ci" if os.environ.get("CI") else "bench")
