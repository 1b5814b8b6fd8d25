"""The site's own pages have no values in their addresses."""


def examples(cast):
    return {}
