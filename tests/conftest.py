"""Settings for every test: random cases are the same in each run, and none is timed."""

from hypothesis import settings

settings.register_profile("suite", max_examples=60, deadline=None, derandomize=True)
settings.load_profile("suite")
