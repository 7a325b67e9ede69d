"""Every part of a picture is held against the library's schema here, which the pages leave out."""

import pytest
from altair.utils import schemapi


@pytest.fixture(autouse=True)
def parts_are_checked():
    with schemapi.debug_mode(True):
        yield
