"""Allows `python -m platemodel`."""

import sys

from platemodel.cli import main

sys.exit(main())
