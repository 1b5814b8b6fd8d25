"""Whether this process can serve: asked by machines, so it says nothing about anyone."""

from django.db import DatabaseError, connection
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from vaslab.version import version


@never_cache
@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """200 when the database answers, 503 when it does not."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return JsonResponse({"status": "the database does not answer"}, status=503)
    return JsonResponse({"status": "well", "version": version()})
