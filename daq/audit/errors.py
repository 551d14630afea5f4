"""What can be wrong with a log that is to be audited, exported or brought in.

AuditError
├── MappingError   a mapping file has mistakes, or does not fit the files it is for
├── IntakeError    the files cannot be read at all: none there, no room for sorting
├── RuleError      a rule file has mistakes, or a rule cannot be run
├── ResumeError    an audit cannot be kept in a folder, or cannot go on from there
└── LogExportError a logbook cannot be exported to where it was asked to go

A row that cannot be read is no error: it is a rejected row, listed with its file and line.
"""

from drivers.errors import RestpointError


class AuditError(RestpointError):
    """An audit cannot be had as it was asked for.

    Args:
        problems: one sentence each, at least one. Those found in a file have the form
            ``file:line: field: what is wrong; what would be right``.
    """

    def __init__(self, *problems: str) -> None:
        super().__init__(*problems)
        self.problems = problems

    def __str__(self) -> str:
        return "\n".join(self.problems)


class MappingError(AuditError):
    """A mapping file has mistakes, or does not fit the files it is for."""


class IntakeError(AuditError):
    """The files of a log cannot be read at all."""


class LogExportError(AuditError):
    """A logbook cannot be exported to where it was asked to go."""


class RuleError(AuditError):
    """A rule file has mistakes, or a rule cannot be run."""


class ResumeError(AuditError):
    """An audit cannot be kept in a folder, or cannot go on from what is kept there."""
