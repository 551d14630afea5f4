"""A station's key: who made a checkpoint is held against a public key that was given out before.

Ed25519 (RFC 8032) over the bytes of the checkpoint's file. The files are everybody's: keys as PEM
(RFC 8410), the signature as its 64 bytes beside the checkpoint, so that other tools check it too:

    openssl pkeyutl -verify -pubin -inkey station.pub -rawin -in june.checkpoint \\
        -sigfile june.checkpoint.sig

The private key lies unencrypted in a file for its owner alone: it says which machine signed, not
which person, and is worth what that account's files are worth.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from daq.logbook.disk import write_new
from daq.logbook.errors import CheckpointError

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric import ed25519

ENDING = ".sig"
"""After the name of a checkpoint's file, for its signature."""


def make_key(path: Path) -> Path:
    """Make a new key: the private one at ``path``, the public one beside it; returns the latter.

    Raises:
        CheckpointError: there are such files already, or they cannot be written.
    """
    serialization, ed25519 = _library()
    public = path.with_suffix(".pub")
    if public == path:
        raise CheckpointError(
            f"{path} is a public key's name. Give the private one another ending."
        )
    key = ed25519.Ed25519PrivateKey.generate()
    private_pem = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    public_pem = key.public_key().public_bytes(
        serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    _write(public, public_pem)
    try:
        _write(path, private_pem, is_private=True)
    except BaseException:
        public.unlink()
        raise
    return public


def sign(checkpoint: Path, key: Path) -> Path:
    """Sign the file of a checkpoint with the private key; returns the signature's file.

    Raises:
        CheckpointError: a file cannot be read or written, or the key is no such key.
    """
    signature = _private(key).sign(_read(checkpoint))
    beside = signature_of(checkpoint)
    _write(beside, signature)
    return beside


def require_signed(checkpoint: Path, public: Path) -> None:
    """Do nothing if the checkpoint was signed with the key to this public one.

    Raises:
        CheckpointError: it was not, or there is no signature beside it.
    """
    key, said, beside = _public(public), _read(checkpoint), signature_of(checkpoint)
    from cryptography.exceptions import InvalidSignature

    if not beside.is_file():
        raise CheckpointError(
            f"{checkpoint} is not signed: there is no {beside.name} beside it. Ask for it."
        )
    try:
        key.verify(_read(beside), said)
    except InvalidSignature as error:
        raise CheckpointError(
            f"{checkpoint} was not signed with the key to {public}, or was edited since. It "
            "vouches for nothing; ask where it comes from."
        ) from error


def require_key(key: Path) -> None:
    """Do nothing if ``key`` is a private key that can sign; else raise as `sign`."""
    _private(key)


def signature_of(checkpoint: Path) -> Path:
    """Where the signature of a checkpoint lies."""
    return checkpoint.with_name(checkpoint.name + ENDING)


def _private(path: Path) -> "ed25519.Ed25519PrivateKey":
    serialization, library = _library()
    key: ed25519.Ed25519PrivateKey = _loaded(
        path, lambda pem: serialization.load_pem_private_key(pem, None), library.Ed25519PrivateKey
    )
    return key


def _public(path: Path) -> "ed25519.Ed25519PublicKey":
    serialization, library = _library()
    key: ed25519.Ed25519PublicKey = _loaded(
        path, serialization.load_pem_public_key, library.Ed25519PublicKey
    )
    return key


def _loaded(path: Path, load: Any, kind: Any) -> Any:
    from cryptography.exceptions import UnsupportedAlgorithm

    pem = _read(path)
    try:
        found = load(pem)
    except (ValueError, TypeError, UnsupportedAlgorithm):
        found = None
    if not isinstance(found, kind):
        what = "private" if kind.__name__.endswith("PrivateKey") else "public"
        raise CheckpointError(
            f"{path} is no {what} key of a station (Ed25519, PEM, not encrypted). Make one with: "
            "restpoint log key station.key"
        )
    return found


def _library() -> tuple[Any, Any]:
    try:
        from cryptography.hazmat.primitives import serialization
        from cryptography.hazmat.primitives.asymmetric import ed25519
    except ModuleNotFoundError as error:
        raise CheckpointError(
            "Signing needs the extra sign, and it is not installed. Install restpoint[sign], or "
            "make a checkpoint without a key."
        ) from error
    return serialization, ed25519


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise CheckpointError(
            f"{path} cannot be read: {error.strerror}. Check the name."
        ) from error


def _write(path: Path, content: bytes, *, is_private: bool = False) -> None:
    try:
        write_new(path, [content], mode=0o600 if is_private else 0o666)
    except FileExistsError as error:
        raise CheckpointError(f"{path} is there already. Give another name.") from error
    except OSError as error:
        raise CheckpointError(f"{path} cannot be written: {error.strerror}.") from error
