"""From the model of a certificate to its Digital Calibration Certificate."""

from collections.abc import Mapping

from daq.report.certificate.model import CertificateModel
from daq.report.dcc.administrative import administrative_data
from daq.report.dcc.errors import DccError, DccExtraError
from daq.report.dcc.measured import measurement_results
from daq.report.dcc.stated import NOTHING_STATED, Stated, require_stated
from daq.report.dcc.tree import Element, element

VERSION = "3.2.1"
"""Of the schema that documents are written after. Version 3.1.2 asks for a maker of the gauge and
an e-mail address of the customer, which no record has."""


def document_of(model: CertificateModel, stated: Stated = NOTHING_STATED) -> Element:
    """The document, before it becomes XML.

    Args:
        model: the certificate.
        stated: what a DCC must say and the model does not have.

    Raises:
        NotStatedError: something that it must say was not stated.
        DccError: it is no certificate, or a figure in it cannot stand in a DCC.
    """
    if model.state != "issued":
        why = " ".join(model.why)
        raise DccError(f"{model.mark}. A DCC is made of a certificate only. {why}".rstrip())
    require_stated(model, stated)
    return element(
        "dcc:digitalCalibrationCertificate",
        administrative_data(model, stated),
        measurement_results(model),
        schemaVersion=VERSION,
    )


def dcc_of(model: CertificateModel, stated: Stated = NOTHING_STATED) -> bytes:
    """The certificate as a DCC: XML in UTF-8. The same model gives the same bytes.

    Args:
        model: the certificate.
        stated: what a DCC must say and the model does not have.

    Raises:
        NotStatedError: something that it must say was not stated.
        DccExtraError: the extra ``dcc`` is not installed.
        DccError: it is no certificate, or a figure in it cannot stand in a DCC.
    """
    document = document_of(model, stated)
    try:
        from daq.report.dcc.writing import xml_of
    except ImportError as error:
        raise DccExtraError from error
    return xml_of(document)


def check_dcc(xml: bytes, files: Mapping[str, bytes], where: str = "The folder") -> None:
    """Hold a document against the published schema of its own version.

    Args:
        xml: the document.
        files: the content of the schema files, by name; `daq.report.dcc.files.schema_files`
            reads a folder.
        where: what to call the folder in messages.

    Raises:
        InvalidDccError: the document does not keep to the schema; with every place.
        SchemaError: there is no schema of its version, or it cannot be used.
        DccExtraError: the extra ``dcc`` is not installed.
    """
    try:
        from daq.report.dcc.checking import check
    except ImportError as error:
        raise DccExtraError from error
    check(xml, files, where)
