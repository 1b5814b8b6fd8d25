"""Let the database itself refuse to change, delete or empty the trail."""

from django.db import migrations

from access import trail_guard


def _guard(apps, schema_editor):
    for statement in trail_guard.UP[schema_editor.connection.vendor]:
        schema_editor.execute(statement, params=None)


def _unguard(apps, schema_editor):
    for statement in trail_guard.DOWN[schema_editor.connection.vendor]:
        schema_editor.execute(statement, params=None)


class Migration(migrations.Migration):
    dependencies = [("access", "0001_initial")]

    operations = [migrations.RunPython(_guard, _unguard)]
