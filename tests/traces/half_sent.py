"""A web process that takes a recording and never comes to the end of it.

``python -m tests.traces.half_sent EXAM ACCOUNT`` says "taken" once everything is written, and is then to be
killed before it commits.
"""

import sys
import time

import numpy as np

from tests.jobs import kinds  # noqa: F401  (before ours: it sets Django up)

# isort: split

from access.models import User
from access.people import person_for
from access.trail import one_act
from exams.traces.services.growing import Samples, receive_whole
from exams.traces.services.sending import Said
from exams.visits.models import Exam
from tests.traces.sending import PLACE, piece

if __name__ == "__main__":
    exam, by = Exam.objects.get(pk=sys.argv[1]), person_for(User.objects.get(pk=sys.argv[2]))
    with one_act():
        samples = Samples(*(np.array(values) for values in piece(1).values()))
        receive_whole(exam=exam, said=Said(**PLACE), samples=samples, key="recording-1", by=by)
        sys.stdout.write("taken\n")
        sys.stdout.flush()
        time.sleep(60)
