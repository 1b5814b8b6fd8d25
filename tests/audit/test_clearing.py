"""What nobody may take any more leaves the disk by itself."""

from datetime import UTC, date, datetime, timedelta

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.test import TestCase

from access import clock
from jobs.services import tidy
from reports.audit.models import Export
from tests.people import cast_of

NOW = datetime(2026, 11, 25, 14, 0, tzinfo=UTC)


class Clearing(TestCase):
    def test_a_file_that_ran_out_is_deleted_without_another_being_written(self):
        cast = cast_of("Alder House")
        over, lasts = (self.written(cast, days) for days in (1, 7))

        with clock.at(NOW + timedelta(days=2)):
            tidy()

        assert not default_storage.exists(over.file.name)
        assert default_storage.exists(lasts.file.name)
        assert Export.objects.get(pk=over.pk).sha256, "the row keeps what went out"

    def written(self, cast, days):
        export = Export.objects.create(
            clinic=cast.clinic,
            holds="sums",
            form="csv",
            year_first=date(2026, 4, 1),
            asked_at=NOW,
            asked_by=cast.administrator.user,
            expires_at=NOW + timedelta(days=days),
        )
        name = f"exports/{cast.clinic.pk}/{export.pk}-whole.zip"
        export.file, export.sha256 = default_storage.save(name, ContentFile(b"PK")), "0" * 64
        export.save()
        return export
