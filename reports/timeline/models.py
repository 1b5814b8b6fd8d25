"""What the pages of a record say, kept ready so that two hundred exams cost no more to look at than five."""

from django.db import models


class KeptRecord(models.Model):
    """What follows from one patient's exams, as `kept` writes it. Never the record itself.

    `mark` is made anew in every act that changes the record, in the same transaction. What is kept counts
    only while it was made of the record at that mark (`made_of`) and by the rules in force (`made_by`): a row
    that was missed, or made by an older version, is made again when it is next looked at, and never shown.

    `page` is the timeline as drawn and listed on the day `page_of`, for everybody: it names no recordings.
    """

    # A number and no foreign key: what is kept follows nobody when two records are merged.
    patient_number = models.BigIntegerField(primary_key=True)
    mark = models.CharField(max_length=32)
    made_of = models.CharField(max_length=32, blank=True)
    made_by = models.CharField(max_length=200, blank=True)
    glance = models.JSONField(null=True, blank=True)
    years = models.JSONField(null=True, blank=True)
    page = models.TextField(blank=True, default="", db_default="")
    page_of = models.DateField(null=True, blank=True)

    def __str__(self):
        return f"kept record of patient {self.patient_number}"


class KeptExam(models.Model):
    """The gist and the whole of one exam, as `gist` writes them, so that a changed one is read again alone.

    It counts only while the exam's stamp (`exams.visits.history.ExamStamp`) is `made_of` and the rules in
    force are `made_by`.
    """

    exam_number = models.BigIntegerField(primary_key=True)
    patient_number = models.BigIntegerField(db_index=True)
    made_of = models.CharField(max_length=40)
    made_by = models.CharField(max_length=200)
    gist = models.TextField()
    whole = models.TextField()

    def __str__(self):
        return f"kept exam {self.exam_number}"
