"""The process apart that reads one file: ``exams.traces.files.apart`` starts it."""

import sys

from exams.traces.files.apart import answer

answer(sys.stdin.buffer, sys.stdout.buffer)
