"""Frozen content in, PDF bytes out: tagged, fonts embedded, without network or files.

The PDF is written as PDF/A-3a with the mark of PDF/UA-1 beside it. Structure, language, titles and
alternative texts are tested; full conformance to either standard is not proven (docs/reports.md).
"""

import io
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache

import pikepdf
import weasyprint
from django.conf import settings
from django.template.loader import render_to_string
from PIL import ImageFile
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

from exams.visits.ladder import ladders
from reports.documents import trend_svg
from reports.documents.content import ReportContent

# The printing library lets the whole process take pictures that end too early; a damaged photograph of a
# wound would then be kept as if it were whole.
ImageFile.LOAD_TRUNCATED_IMAGES = False

_STATIC = settings.HOUSE / "vaslab/static/vaslab"
FONTS = _STATIC / "vendor/source-sans/ttf"
# Every name the renderer may open, and the file behind it. Nothing else is opened, whatever a page asks for.
PACKAGED = {
    f"packaged:fonts/{name}": FONTS / name
    for name in (
        "SourceSans3-Regular.ttf",
        "SourceSans3-It.ttf",
        "SourceSans3-Semibold.ttf",
        "SourceSans3-Bold.ttf",
    )
}
# Relative addresses resolve to this, which is no packaged name.
BASE = "packaged:page"
# Archival and tagged.
VARIANT = {"pdf_variant": "pdf/a-3a", "pdf_tags": True}
STYLE = "\n".join(
    (_STATIC / f"css/{name}.css").read_text(encoding="utf-8") for name in ("print", "print_recordings")
)

# PDF/A wants every metadata property outside its own list described; this one says "tagged for PDF/UA".
_UA_MARK = """<rdf:Description rdf:about="" xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/">
  <pdfuaid:part>1</pdfuaid:part>
</rdf:Description>
<rdf:Description rdf:about=""
    xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
    xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#"
    xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
  <pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
    <pdfaSchema:schema>PDF/UA identification</pdfaSchema:schema>
    <pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
    <pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
    <pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
      <pdfaProperty:name>part</pdfaProperty:name>
      <pdfaProperty:valueType>Integer</pdfaProperty:valueType>
      <pdfaProperty:category>internal</pdfaProperty:category>
      <pdfaProperty:description>Part of the PDF/UA standard</pdfaProperty:description>
    </rdf:li></rdf:Seq></pdfaSchema:property>
  </rdf:li></rdf:Bag></pdfaExtension:schemas>
</rdf:Description>
"""


class NotPackaged(Exception):
    """The page asked for something that is not one of the service's own print files."""


@dataclass(frozen=True)
class Printed:
    """A finished PDF."""

    data: bytes
    pages: int


class PackagedOnly(URLFetcher):
    """Opens the packaged fonts by exact name; every other address stops the rendering.

    ``refused`` is true once anything else was asked for: inside a figure the library would go on without it.
    """

    def __init__(self) -> None:
        super().__init__(fail_on_errors=True)
        self.refused = False

    def fetch(self, url: str, headers: object = None) -> URLFetcherResponse:
        path = PACKAGED.get(url)
        if path is None:
            self.refused = True
            raise NotPackaged(url)
        return URLFetcherResponse(url, body=path.read_bytes(), headers={"Content-Type": "font/ttf"})


def page(content: ReportContent, made_at: datetime) -> str:
    """The report as one HTML page; every typed text in it is escaped."""
    panels = trend_svg.draw(content.trend)
    return render_to_string(
        "documents/report.html",
        {
            "report": content,
            "made": made_at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
            "ladders": ladders(content.right, content.left),
            "panels": panels,
            "panel_pairs": trend_svg.beside(panels),
            "breaks": trend_svg.breaks(content.trend),
            "flags": trend_svg.flags(content.trend),
            "has_flags": any(panel.events for panel in content.trend),
            "noise_is_drawn": any(panel.noises for panel in content.trend),
            "trend_tables": trend_svg.tables(content.trend),
        },
    )


def pdf(content: ReportContent, identifier: str, made_at: datetime) -> Printed:
    """The report as a PDF.

    Parameters
    ----------
    content : ReportContent
    identifier : str
        Becomes the PDF's identifier; the same content, identifier and date give the same bytes.
    made_at : datetime
        Aware; written into the PDF as its creation date.

    Raises
    ------
    NotPackaged
        If the page asks for anything but the packaged fonts.
    """
    return printed(page(content, made_at), identifier)


def printed(html: str, identifier: str) -> Printed:
    """A finished HTML page as a PDF; see ``pdf``."""
    style, fonts = _shared()
    options = {**VARIANT, "stylesheets": [style], "pdf_identifier": identifier.encode()}
    fetcher = PackagedOnly()
    try:
        document = weasyprint.HTML(string=html, base_url=BASE, url_fetcher=fetcher).render(
            font_config=fonts, **options
        )
        data = document.write_pdf(**options)
    except FatalURLFetchingError:
        pass  # the library's own error is none that a job would catch, and it names the address
    if fetcher.refused:
        raise NotPackaged("The report tried to open something outside itself; nothing was opened.")
    return Printed(_with_ua_mark(data), len(document.pages))


@cache
def _shared() -> tuple[weasyprint.CSS, FontConfiguration]:
    """Parsed once a process: unpacking fonts costs more than the rest of a report."""
    fonts = FontConfiguration()
    style = weasyprint.CSS(
        string=STYLE,
        base_url=BASE,
        font_config=fonts,
        url_fetcher=PackagedOnly(),
    )
    return style, fonts


def _with_ua_mark(data: bytes) -> bytes:
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(data)) as file:
        metadata = file.Root.Metadata
        end = b"</rdf:RDF>"
        xml = metadata.read_bytes()
        if xml.count(end) != 1:
            raise ValueError("The PDF's metadata is not one block; the accessibility mark cannot be added.")
        metadata.write(xml.replace(end, _UA_MARK.encode() + end))
        file.save(out, deterministic_id=True)
    return out.getvalue()
