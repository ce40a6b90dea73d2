from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.simulation.demo import write_demo
from pipeline.simulation.program import SimulatedProgram, simulate_program
from tests.made_once import made_once


@pytest.fixture(scope="session")
def program() -> SimulatedProgram:
    return simulate_program()


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory) -> Path:
    """With defects, every season delivered in our own headings; never change it."""
    return made_once(tmp_path_factory, "demo-in-our-headings", lambda folder: write_demo(folder, senders=False))


@pytest.fixture(scope="session")
def sent_folder(sent_demo) -> Path:
    """With defects, in the shapes people send."""
    return sent_demo
