"""One class for each thing a person can put right.

Every message is a plain sentence that says what is wrong, with the numbers in
it, and what to do. No HTTP status and no exit code is known here: the edge has them.
"""


class StripleafError(Exception):
    """Base of all errors that a person can put right."""


class InvalidInput(StripleafError):
    """Something typed or sent can't be understood or is out of range."""


class UnknownFormat(InvalidInput):
    """A film format that is neither built in nor defined by the person."""


class UnknownLayout(InvalidInput):
    """A sleeve layout that is neither built in nor defined by the person."""


class ImpossibleLayout(InvalidInput):
    """A sleeve page whose measures contradict one another."""


class DoesNotFit(StripleafError):
    """Film that is longer, wider or more than the place meant for it."""


class SlotTaken(StripleafError):
    """A slot that already holds film where more was to go."""


class NotFound(StripleafError):
    """A roll, frame, binder, page, strip or file that isn't there."""


class AlreadyExists(StripleafError):
    """A number or name that has been issued before."""


class OutsideScanFolder(InvalidInput):
    """A path that leads out of the scan folder."""


class UnreadablePicture(InvalidInput):
    """An image file that is broken, truncated, too large or of no known kind."""


class ArchiveProblem(StripleafError):
    """The archive folder or its database can't be used as it is."""
