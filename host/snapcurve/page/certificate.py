"""A certificate for the line to the tablet, made on the spot and never kept.

It is its own authority, so the tablet's browser warns once; the person compares the fingerprint
with the one on the computer. Without the library that makes it the line is not encrypted.
"""

import datetime
import ipaddress
from dataclasses import dataclass
from pathlib import Path

HOURS = 24
BACK_HOURS = 24  # a tablet's clock may go wrong by so much
NOT_ENCRYPTED = (
    "The line to the tablet is not encrypted, as the library cryptography is not installed: "
    "anyone in this network can read along, and the tablet goes to sleep by itself. "
    "'pip install cryptography' and a new start encrypt it."
)


@dataclass(frozen=True)
class Certificate:
    """PEM files, and the SHA-256 of the certificate as browsers show it."""

    certificate: Path
    key: Path
    fingerprint: str


def certificate_for(address: str, folder: Path) -> Certificate | None:
    """A certificate for the IP ``address`` in ``folder``; None without the library."""
    try:
        from cryptography import x509
        from cryptography.hazmat.primitives import hashes, serialization
        from cryptography.hazmat.primitives.asymmetric import ec
    except ImportError:
        return None
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "snapcurve page")])
    now = datetime.datetime.now(datetime.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - datetime.timedelta(hours=BACK_HOURS))
        .not_valid_after(now + datetime.timedelta(hours=HOURS))
        .add_extension(
            x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(address))]), False
        )
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), True)
        .add_extension(x509.ExtendedKeyUsage([x509.ExtendedKeyUsageOID.SERVER_AUTH]), False)
        .sign(key, hashes.SHA256())
    )
    files = folder / "certificate.pem", folder / "key.pem"
    files[0].write_bytes(made.public_bytes(serialization.Encoding.PEM))
    files[1].touch(mode=0o600)
    files[1].write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    print_of = made.fingerprint(hashes.SHA256()).hex().upper()
    pairs = ":".join(print_of[at : at + 2] for at in range(0, len(print_of), 2))
    return Certificate(*files, pairs)
