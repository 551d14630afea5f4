"""Lets this folder's tests import its ``wire_tools`` and ``layout_tools``."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
