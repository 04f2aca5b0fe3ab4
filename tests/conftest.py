"""No test keeps replications in the user's own store, nor finds any there; tests of the store name their own."""

from __future__ import annotations

import os

os.environ["VENUE_STORE"] = ""
