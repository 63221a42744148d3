"""``python -m monitor.cli``: how the supervisor starts its children."""

import sys

from monitor.cli import main

sys.exit(main())
