"""What the core raises when its input cannot be right.

The core gives a code and its parts; the form or command that took the input chooses the words.
"""


class InputError(ValueError):
    """An input that cannot be right.

    Parameters
    ----------
    code : str
        Stable code, ``<thing>.<what is wrong>``: ``pressure.zero``, ``pressure.out_of_range``,
        ``pressure.missing``, ``pressure.unexpected``, ``pressure.not_whole_halves``, ``site.wrong_place``,
        ``side.wrong_place``, ``criteria.unknown``, ``criteria.invalid``, ``arm.not_positive``.
    field : str
        Which input, in the words of the caller where there are any: ``right.dorsalis_pedis``.
    value : object
        What was given.
    limit : object
        The limit that was passed, or the list of what is allowed; None where there is none.
    """

    def __init__(self, code: str, field: str, value: object = None, limit: object = None) -> None:
        self.code = code
        self.field = field
        self.value = value
        self.limit = limit
        message = f"{code}: {field} = {value!r}"
        super().__init__(message if limit is None else f"{message} (allowed: {limit})")


class CriteriaError(InputError):
    """Diagnostic criteria that cannot be used; ``problems`` lists every fault found, one sentence each."""

    def __init__(self, field: str, problems: tuple[str, ...]) -> None:
        super().__init__("criteria.invalid", field=field, value=problems)
        self.problems = problems

    def __str__(self) -> str:
        return f"Criteria {self.field} cannot be used: " + " ".join(self.problems)
