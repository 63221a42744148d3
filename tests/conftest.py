"""What holds for every test: the same examples each run, and no property that fails because a machine is busy."""

from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")
