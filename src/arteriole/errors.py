"""Every failure a user can meet, as one tree.

::

    ArterioleError
    ├── OptionError        the call's own words are wrong               exit 2
    │   ├── SheetInvalid       a sheet, mark or setting that cannot be used
    │   └── UnknownKey         a name that is not in a registry
    ├── UnreadableRecording  missing, unreadable or not a recording     exit 3
    │   ├── ChannelUnclear     a column that must be named with --map
    │   └── FormatLimit        what a format cannot hold, on writing
    └── NotEnoughSignal    too little signal for one quantity; the study withholds it

The form of every message: what was given (value and unit); what is allowed; what to do next.
The core raises these and knows nothing of exit codes or HTTP; the doors translate them.
"""


class ArterioleError(Exception):
    """Root of the tree."""


class OptionError(ArterioleError):
    """The call itself cannot be understood."""


class SheetInvalid(OptionError):
    """A sheet, mark, edit or setting that cannot be used."""


class UnknownKey(OptionError):
    """A name that no registry holds; the message lists the good ones."""


class UnreadableRecording(ArterioleError):
    """A path that is missing, unreadable or not a recording."""


class ChannelUnclear(UnreadableRecording):
    """A column whose meaning would have to be guessed."""


class FormatLimit(UnreadableRecording):
    """Something a file format cannot hold."""


class NotEnoughSignal(ArterioleError):
    """Too little usable signal to compute one quantity."""
