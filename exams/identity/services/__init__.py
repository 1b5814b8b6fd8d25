"""What corrects whose record it is: each a verb, one act, with a line in the trail of either record."""

from exams.identity.services.merges import merge_records, say_different
from exams.identity.services.undoing import undo_merge
from exams.identity.services.wrong_person import enter_under_right_person

__all__ = ["enter_under_right_person", "merge_records", "say_different", "undo_merge"]
