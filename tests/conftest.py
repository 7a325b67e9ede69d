"""What holds for every test: none has a deadline by the clock, only a guard against hanging."""

import pytest
from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let a slow test take as long as it takes; on a busy machine that is hours."""
    for item in items:
        if item.get_closest_marker("slow") or item.get_closest_marker("bench"):
            item.add_marker(pytest.mark.timeout(0))
