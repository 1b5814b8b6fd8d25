"""A browser said in words a person knows it by."""

# The first that is found is meant: most browsers also carry the names of those they descend from.
BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("Firefox/", "Firefox"),
    ("FxiOS/", "Firefox"),
    ("HeadlessChrome/", "Chromium"),
    ("Chromium/", "Chromium"),
    ("CriOS/", "Chrome"),
    ("Chrome/", "Chrome or Chromium"),
    ("Safari/", "Safari"),
)
SYSTEMS = (
    ("Android", "Android"),
    ("iPhone", "an iPhone"),
    ("iPad", "an iPad"),
    ("Windows", "Windows"),
    ("Macintosh", "a Mac"),
    ("CrOS", "ChromeOS"),
    ("Linux", "Linux"),
)


def in_words(user_agent: str) -> str:
    """What a browser calls itself in its User-Agent header, as "Firefox on Windows"; never fails.

    Common practice, no source: the header has no fixed form, so an unknown one is said to be unknown.
    """
    browser = next((words for mark, words in BROWSERS if mark in user_agent), "an unknown browser")
    system = next((words for mark, words in SYSTEMS if mark in user_agent), "")
    return f"{browser} on {system}" if system else browser
