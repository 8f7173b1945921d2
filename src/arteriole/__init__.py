"""One continuous coronary pressure and temperature recording in, one graded study out.

For research, teaching and re-reading by trained people. Not a medical device. Never the only
basis for a decision; local protocol and licensed practice come first.
"""

__version__ = "0.1.0"

CAUTION = (
    "For research, teaching and re-reading by trained people. Not a medical device. "
    "Never the only basis for a decision; local protocol and licensed practice come first."
)
