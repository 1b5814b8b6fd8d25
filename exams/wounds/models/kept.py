"""What the outlook of both feet says, kept ready so that the page costs no more than another."""

from django.db import models


class KeptOutlook(models.Model):
    """What follows from one patient's record, as ``keeping`` writes it. Never the record itself.

    ``mark`` is made anew in every act that changes the record, in the same transaction. What is kept counts
    only while it was made of the record at that mark (``made_of``) and on the day, by the code and by the
    criteria in force (``made_by``): anything else is made again when it is next looked at, and never shown.
    """

    # A number and no foreign key: what is kept follows nobody when two records are merged.
    patient_number = models.BigIntegerField(primary_key=True)
    mark = models.CharField(max_length=32)
    made_of = models.CharField(max_length=32, blank=True)
    made_by = models.CharField(max_length=200, blank=True)
    right = models.JSONField(null=True, blank=True)
    left = models.JSONField(null=True, blank=True)

    def __str__(self):
        return f"kept outlook of patient {self.patient_number}"
