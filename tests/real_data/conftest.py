"""Lets the tests of this folder import the modules beside them, however pytest was started."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
