"""Example objects of the jobs page for the walk through every page."""

from jobs import services


def examples(cast):
    job = services.start("PDF of an exam report", by=cast.measurer, numbers={"document": 1})
    about_the_job = {"number": job.pk}
    return {"jobs:state": about_the_job, "jobs:try_again": about_the_job, "jobs_api:job": about_the_job}
