"""`python -m timerd` is `timerd`."""

import sys

from timerd.cli import main

sys.exit(main())
