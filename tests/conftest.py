"""What every test starts from: no store of the user's, and Ctrl-C as at a terminal.

No test keeps replications in the user's own store, nor finds any there; tests of the store name their own. A suite that
a shell starts in the background ignores Ctrl-C, and so would the programs that its tests start.
"""

from __future__ import annotations

import os
import signal

os.environ["VENUE_STORE"] = ""
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
