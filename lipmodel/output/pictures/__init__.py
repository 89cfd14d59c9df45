"""Pictures as values: data in, a matplotlib `Figure` out; nothing is saved here.

This file stays free of matplotlib, so that pages can share its words.
"""

import logging

# without a home it is only slower: no reason for two lines of advice
logging.getLogger("matplotlib").setLevel(logging.ERROR)
