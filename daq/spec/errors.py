"""What can be wrong with a specification, a length or a decision rule as someone wrote it.

``SpecError`` stands on the drivers' root, so the command line catches it with all the others.
"""

from drivers.errors import RestpointError


class SpecError(RestpointError):
    """A length, a specification, a decision rule or an adjuster does not say what it must.

    Args:
        problems: one sentence each, at least one. Those found in a file have the form
            ``file:line: field: what is wrong; what would be right``.
    """

    def __init__(self, *problems: str) -> None:
        super().__init__(*problems)
        self.problems = problems

    def __str__(self) -> str:
        return "\n".join(self.problems)
