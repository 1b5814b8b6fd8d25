"""Example objects of the jobs page for the walk through every page."""

from jobs import services


def examples(cast):
    job = services.start("PDF of an exam report", by=cast.measurer, numbers={"document": 1})
    return {"jobs:state": {"number": job.pk}, "jobs:try_again": {"number": job.pk}}
