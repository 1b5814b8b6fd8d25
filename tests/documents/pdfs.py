"""Reading a PDF back: its text page by page, its tags, its fonts, its marks."""

import io
from collections.abc import Iterator

import pikepdf
import pypdf

FONT_FILES = ("/FontFile", "/FontFile2", "/FontFile3")


def texts(data: bytes) -> list[str]:
    """The text of each page, with single spaces."""
    return [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(data)).pages]


def heights(data: bytes, page: int) -> list[tuple[str, float]]:
    """Each run of text of a page with the height of its line above the foot of the sheet, in points."""
    found = []

    def visit(text, matrix, text_matrix, _font, _size):
        if text.strip():
            # Text is set within the page's own scale and shift.
            found.append((text.strip(), text_matrix[5] * matrix[3] + matrix[5]))

    pypdf.PdfReader(io.BytesIO(data)).pages[page].extract_text(visitor_text=visit)
    return found


def whole_text(data: bytes) -> str:
    return " ".join(texts(data))


def opened(data: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(data))


def tags(data: bytes) -> list[tuple[str, str]]:
    """Every tag with its alternative text, in reading order."""
    with opened(data) as file:
        return list(_walk(file.Root.StructTreeRoot.K))


def embedded_fonts(data: bytes) -> dict[str, bool]:
    """Each font's name, and whether its outlines lie in the file."""
    found = {}
    with opened(data) as file:
        for item in file.objects:
            if isinstance(item, pikepdf.Dictionary) and item.get("/Type") == "/FontDescriptor":
                found[str(item.FontName)] = any(key in item for key in FONT_FILES)
    return found


def _walk(node) -> Iterator[tuple[str, str]]:
    if isinstance(node, pikepdf.Array):
        for one in node:
            yield from _walk(one)
    elif isinstance(node, pikepdf.Dictionary):
        if "/S" in node:
            yield str(node.S), str(node.get("/Alt", ""))
        if "/K" in node:
            yield from _walk(node.K)
