from __future__ import annotations

import signal

import pytest

from pipeline.steps import loading


@pytest.fixture
def ctrl_c_is_heard():
    """A shell starts what it runs in the background deaf to it, nohup to a terminal that is gone."""
    old = {signal.SIGINT: signal.default_int_handler, signal.SIGHUP: signal.SIG_DFL}
    old = {number: signal.signal(number, heard) for number, heard in old.items()}
    yield
    for number, handler in old.items():
        signal.signal(number, handler)


@pytest.fixture
def trials_as_they_are(monkeypatch):
    """A run stores what arrives and goes on with the trials of the last run: for runs that are to fail later."""
    for part in ("build_staging", "build_checked"):
        monkeypatch.setattr(loading, part, lambda *_, **__: None)
