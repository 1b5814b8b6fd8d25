"""An index for "this word stands somewhere in the name", where the database has one to offer.

PostgreSQL's extension pg_trgm may be missing, or the role may not be allowed to create it: the search is then
right all the same and only slower among very many people. SQLite has none and reads the column through.
"""

from django.db import DatabaseError, migrations, transaction

UP = (
    "CREATE EXTENSION IF NOT EXISTS pg_trgm",
    "CREATE INDEX patient_by_search ON patients_patient USING gin (search_text gin_trgm_ops)",
)


def up(apps, schema_editor):
    if schema_editor.connection.vendor != "postgresql":
        return
    try:
        connection = schema_editor.connection
        with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
            for statement in UP:
                cursor.execute(statement)
    except DatabaseError as refused:
        print(f"  searching without a trigram index: {str(refused).splitlines()[0]}")


def down(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("DROP INDEX IF EXISTS patient_by_search")


class Migration(migrations.Migration):
    dependencies = [("patients", "0001_initial")]

    operations = [migrations.RunPython(up, down)]
