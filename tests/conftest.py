"""Settings for every test: random cases are the same in each run, and none is timed.

Threads as the program sets them (docs/decisions/0013), before numpy is imported.
"""

import os

os.environ.setdefault("OMP_WAIT_POLICY", "PASSIVE")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from hypothesis import settings

settings.register_profile("suite", max_examples=60, deadline=None, derandomize=True)
settings.load_profile("suite")
