"""The guard's modules are found as on its board: by their own names."""

import sys
from pathlib import Path

for folder in (Path(__file__).parent, Path(__file__).parents[2] / "firmware" / "guard"):
    sys.path.append(str(folder))
