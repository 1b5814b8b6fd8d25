"""A person recognises their own sign-in by the browser's everyday name."""

import pytest

from access.browsers import in_words


# The headers are written from memory.
@pytest.mark.parametrize(
    ("header", "words"),
    [
        (
            "Mozilla/5.0 (X11; Linux x86_64) AppleWebKit/537.36 HeadlessChrome/140.0 Safari/537.36",
            "Chromium on Linux",
        ),
        (
            "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 Chrome/140.0 Safari/537.36",
            "Chrome or Chromium on Windows",
        ),
        (
            "Mozilla/5.0 (Windows NT 10.0) AppleWebKit/537.36 Chrome/140.0 Safari/537.36 Edg/140.0",
            "Edge on Windows",
        ),
        (
            "Mozilla/5.0 (Macintosh; Intel Mac OS X 15_0) AppleWebKit/605.1 Version/18.0 Safari/605.1",
            "Safari on a Mac",
        ),
        (
            "Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) CriOS/140.0 Safari/604.1",
            "Chrome on an iPhone",
        ),
        ("Mozilla/5.0 (Android 15; Mobile; rv:140.0) Gecko/140.0 Firefox/140.0", "Firefox on Android"),
    ],
)
def test_the_browser_and_the_machine_are_named(header, words):
    assert in_words(header) == words


@pytest.mark.parametrize("header", ["", "something else"])
def test_what_is_not_known_is_said_to_be_unknown(header):
    assert in_words(header) == "an unknown browser"
