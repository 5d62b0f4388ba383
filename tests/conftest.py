"""What all tests share: the same random cases each time, so that a red check can be made again.

New cases are tried with `--hypothesis-profile=search`; a case that fails goes into the test as an example.
"""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("check", derandomize=True, deadline=None)
settings.register_profile("search", deadline=None, max_examples=500)
settings.load_profile("check")
