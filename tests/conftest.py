"""Helpers of the tests can be imported by name; what is kept between runs is kept apart."""

import os
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
os.environ["LIPMODEL_CACHE"] = tempfile.mkdtemp(prefix="lipmodel-tests-")
