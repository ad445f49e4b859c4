"""Puts the written-down rows of made.py within reach of the tests beside it."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
