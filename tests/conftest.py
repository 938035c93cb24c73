"""Settings for the whole suite: Hypothesis without deadlines, deterministic in CI."""

import os
import signal

import pytest
from hypothesis import HealthCheck, settings

# What a worker of a parallel run is told of the terminal is none of the business of what is tested.
if "PYTEST_XDIST_WORKER" in os.environ:
    os.environ.pop("COLUMNS", None)

# A shell that runs this in the background has it ignore the interrupt key, and so would every process started here.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

pytest.register_assert_rewrite("tests.drawing", "tests.survey.circuits", "tests.survey.buses", "tests.bus_rules")

settings.register_profile("local", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", parent=settings.get_profile("local"), derandomize=True, print_blob=True)
settings.register_profile("quick", parent=settings.get_profile("local"), max_examples=10)
settings.register_profile("deep", parent=settings.get_profile("local"), max_examples=2000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci" if os.environ.get("CI") else "local"))
