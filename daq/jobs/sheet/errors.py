"""What can be wrong with a job sheet."""

from drivers.errors import RestpointError


class SheetError(RestpointError):
    """A job sheet has mistakes, or does not hold what was asked of it.

    Args:
        problems: one sentence each, at least one. Those found in a file have the form
            ``file:line: field: what is wrong; what would be right``.
    """

    def __init__(self, *problems: str) -> None:
        super().__init__(*problems)
        self.problems = problems

    def __str__(self) -> str:
        return "\n".join(self.problems)


class NoSheetError(SheetError):
    """There is no job sheet to check: the file cannot be read, or is no text."""
