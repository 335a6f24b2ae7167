"""Tests learn their models themselves: nothing of an earlier run may stand in for what the code does now."""

import os

os.environ.setdefault("PLATEMODEL_CACHE", "off")
