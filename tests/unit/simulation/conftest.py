from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.simulation.demo import write_demo
from pipeline.simulation.program import SimulatedProgram, simulate_program


@pytest.fixture(scope="session")
def program() -> SimulatedProgram:
    return simulate_program()


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory) -> Path:
    """With defects, every season delivered in our own headings."""
    folder = tmp_path_factory.mktemp("demo")
    write_demo(folder, senders=False)
    return folder


@pytest.fixture(scope="session")
def sent_folder(tmp_path_factory) -> Path:
    """With defects, in the shapes people send."""
    folder = tmp_path_factory.mktemp("sent")
    write_demo(folder)
    return folder
