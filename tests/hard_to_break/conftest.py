from __future__ import annotations

import signal

import pytest


@pytest.fixture
def ctrl_c_is_heard():
    """A shell starts what it runs in the background deaf to it."""
    old = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, old)
