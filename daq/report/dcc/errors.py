"""Errors about digital calibration certificates a caller can act on.

DccError
├── NotStatedError     something that a DCC must say was not stated
├── SchemaError        the folder holds no schema to check against
├── InvalidDccError    the document does not keep to the schema
└── DccExtraError      the extra ``dcc`` is not installed
"""

from daq.report.errors import ReportError


class DccError(ReportError):
    """A digital calibration certificate could not be made; the message says why."""


class NotStatedError(DccError):
    """Something that a DCC must say was not stated, and it is not made up.

    Args:
        missing: what is missing, a sentence each, with the key to state it by.
    """

    def __init__(self, *missing: str) -> None:
        super().__init__("No DCC is made: it must say what nobody stated.\n" + "\n".join(missing))
        self.missing = missing


class SchemaError(DccError):
    """The folder holds no schema to check against, or one that cannot be used."""


class InvalidDccError(DccError):
    """The document does not keep to the schema.

    Args:
        schema: the schema's file, by name.
        problems: ``line N, element: what is wrong``, in the order of the document.
    """

    MOST_TOLD = 20

    def __init__(self, schema: str, problems: tuple[str, ...]) -> None:
        told = list(problems[: self.MOST_TOLD])
        if len(problems) > len(told):
            told.append(f"and {len(problems) - len(told)} more")
        super().__init__(
            f"The document does not keep to the schema in {schema}, so it is not written.\n"
            + "\n".join(told)
        )
        self.schema = schema
        self.problems = problems


class DccExtraError(DccError):
    """The extra ``dcc`` is not installed."""

    def __init__(self) -> None:
        super().__init__(
            "A DCC needs the extra dcc, and it is not installed. Install restpoint[dcc]; the CSV "
            "of the certificate has the same figures."
        )
