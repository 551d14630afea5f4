"""What a study refuses, and why."""

from drivers.errors import RestpointError


class StudyError(RestpointError):
    """These data cannot be studied as asked.

    Args:
        problems: one sentence each, at least one. Those found in a table have the form
            ``file:line: column: what is wrong; what would be right``.
    """

    def __init__(self, *problems: str) -> None:
        super().__init__(*problems)
        self.problems = problems

    def __str__(self) -> str:
        return "\n".join(self.problems)
