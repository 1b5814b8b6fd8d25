"""Ask for a job from a process of its own: ``python -m tests.jobs.ask USER CLINIC``."""

import sys

from tests.jobs import kinds  # noqa: F401  (first: it sets Django up)

# isort: split

from access.models import User
from access.people import person_for
from jobs import services

if __name__ == "__main__":
    user, clinic = map(int, sys.argv[1:])
    services.start("greet", by=person_for(User.objects.get(pk=user), clinic), numbers={"row": 7})
