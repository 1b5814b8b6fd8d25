"""What this room refuses for reasons of its own."""

from datetime import datetime


class StaleValue(Exception):
    """Someone changed the field after it was shown: nothing was written, theirs is carried along.

    Parameters
    ----------
    field : name of the field.
    revision : number of the row that stands there now.
    theirs : what stands there now, as it would be typed.
    shown : the same, as it is read out.
    by, at : who put it there, and when.
    """

    def __init__(self, *, field: str, revision: int, theirs: str, shown: str, by: str, at: datetime) -> None:
        super().__init__(f"{field} was changed meanwhile")
        self.field = field
        self.revision = revision
        self.theirs = theirs
        self.shown = shown
        self.by = by
        self.at = at
