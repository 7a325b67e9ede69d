"""What holds for every test: a property has no deadline by the clock."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
