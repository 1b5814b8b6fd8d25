"""The report's PDF: what the house adds to the library's own time for the same finished page."""

import os
import time

import django
import weasyprint
from django.apps import apps
from weasyprint.text.fonts import FontConfiguration

REPEATS = 5
MUST_TIMES_THE_LIBRARY = 1.5


def measure():
    """Content to PDF over the library alone on the same HTML, stylesheet and fonts; one process, warm."""
    if not apps.ready:
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "vaslab.settings")
        django.setup()
    from reports.documents import render  # needs the settings
    from tests.documents import contents

    content = contents.usual()
    html = render.page(content, contents.MADE_AT)
    fonts = FontConfiguration()
    style = weasyprint.CSS(
        string=render.STYLE.replace("packaged:fonts/", f"{render.FONTS.as_uri()}/"),
        font_config=fonts,
    )

    def the_library_alone():
        weasyprint.HTML(string=html).write_pdf(stylesheets=[style], font_config=fonts, **render.VARIANT)

    def the_house():
        render.pdf(content, "bench", contents.MADE_AT)

    alone, ours = _shortest(the_library_alone), _shortest(the_house)
    return [
        {
            "name": "report PDF over the library alone on the same page",
            "value": round(ours / alone, 2),
            "unit": "times",
            "must": f"at most {MUST_TIMES_THE_LIBRARY}",
            "met": ours / alone <= MUST_TIMES_THE_LIBRARY,
        },
        {
            "name": "report PDF: processor time of one report",
            "value": round(ours, 2),
            "unit": "s",
            "must": "no limit set",
            "met": True,
        },
    ]


def _shortest(run):
    """Processor seconds of the quickest of several runs after one to warm up."""
    run()
    times = []
    for _ in range(REPEATS):
        started = time.process_time()
        run()
        times.append(time.process_time() - started)
    return min(times)
