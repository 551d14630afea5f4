"""``python -m daq.cli``: the same as ``restpoint``."""

import sys

from daq.cli import main

sys.exit(main())
