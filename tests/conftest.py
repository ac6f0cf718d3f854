"""What all tests share: generated cases run without a clock, as the machine is shared."""

from hypothesis import settings

settings.register_profile("shared machine", deadline=None)
settings.load_profile("shared machine")
