"""Lets tests of this folder import ``trial_tables``."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
