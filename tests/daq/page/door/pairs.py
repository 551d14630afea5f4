"""Certificates for tests, made by the openssl of this machine."""

import shutil
import subprocess

OPENSSL = shutil.which("openssl")
MISSING = "openssl is not installed: TLS of the bench page is NOT tested"

CONFIG = """\
[ca]
default_ca = here
[here]
database = {folder}/index.txt
new_certs_dir = {folder}
serial = {folder}/serial
default_md = sha256
policy = any
unique_subject = no
[any]
commonName = supplied
[plain]
basicConstraints = CA:FALSE
{names}
"""


def run(*args):
    assert OPENSSL is not None
    subprocess.run([OPENSSL, *map(str, args)], check=True, capture_output=True, timeout=30)


def make_pair(folder, *, begins="20260101000000Z", ends="20991231000000Z", names="DNS:localhost"):
    """A certificate and key in ``folder``, sealed by themselves, valid between the two times."""
    folder.mkdir(exist_ok=True)
    cert, key, asked = folder / "cert.pem", folder / "key.pem", folder / "asked.pem"
    config = folder / "openssl.cnf"
    line = f"subjectAltName = {names}" if names else ""
    config.write_text(CONFIG.format(folder=folder, names=line))
    (folder / "index.txt").touch()
    (folder / "serial").write_text("01\n")
    run("ecparam", "-name", "prime256v1", "-genkey", "-noout", "-out", key)
    key.chmod(0o600)
    run("req", "-new", "-key", key, "-subj", "/CN=bench page of a test", "-out", asked)
    run(
        *("ca", "-batch", "-selfsign", "-config", config, "-extensions", "plain", "-notext"),
        *("-keyfile", key, "-in", asked, "-out", cert, "-startdate", begins, "-enddate", ends),
    )
    return cert, key
