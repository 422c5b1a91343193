"""The keys of a device: one signs what it sends, the other opens what is sent to it."""

import base64
import binascii
import hashlib
from dataclasses import dataclass

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from pyrage import IdentityError, RecipientError, x25519

from ..errors import SideportError

__all__ = ["DeviceKeys", "WrongKeyError", "device_of", "is_signed", "make_keys", "recipient"]

NAME_LENGTH = 20


class WrongKeyError(SideportError):
    """A key that is not one, or not the one that is needed."""


@dataclass(frozen=True, slots=True)
class DeviceKeys:
    """Both secrets of a device, as text."""

    signing: str
    """Ed25519 private key, base64."""
    opening: str
    """age X25519 identity."""

    def __repr__(self) -> str:
        return f"DeviceKeys(device={self.device!r})"

    @property
    def device(self) -> str:
        """The device's name in the journal, made from its signing key, so that none can take another's."""
        return device_of(self.verifying)

    @property
    def verifying(self) -> str:
        """The public half of the signing key, base64."""
        return base64.b64encode(self._signer().public_key().public_bytes_raw()).decode()

    @property
    def address(self) -> str:
        """What others encrypt to: ``age1...``."""
        return str(self.opener().to_public())

    def sign(self, message: bytes) -> str:
        """The signature of a message, base64."""
        return base64.b64encode(self._signer().sign(message)).decode()

    def opener(self) -> x25519.Identity:
        """What decrypts.

        Raises
        ------
        WrongKeyError
            When the text is not such a key.
        """
        try:
            return x25519.Identity.from_str(self.opening)
        except IdentityError:
            raise WrongKeyError("The device's own key cannot be read; restore its key file.") from None

    def _signer(self) -> Ed25519PrivateKey:
        """What signs."""
        try:
            return Ed25519PrivateKey.from_private_bytes(base64.b64decode(self.signing, validate=True))
        except (ValueError, binascii.Error):
            raise WrongKeyError("The device's own key cannot be read; restore its key file.") from None


def make_keys() -> DeviceKeys:
    """New keys from the system's own randomness."""
    signing = base64.b64encode(Ed25519PrivateKey.generate().private_bytes_raw()).decode()
    return DeviceKeys(signing=signing, opening=str(x25519.Identity.generate()))


def device_of(verifying: str) -> str:
    """The name of the device that a public signing key belongs to."""
    digest = hashlib.sha256(verifying.encode()).digest()
    return base64.b32encode(digest).decode().lower()[:NAME_LENGTH]


def is_signed(*, message: bytes, signature: str, verifying: str) -> bool:
    """Whether a message carries the signature of a device."""
    try:
        key = Ed25519PublicKey.from_public_bytes(base64.b64decode(verifying, validate=True))
        key.verify(base64.b64decode(signature, validate=True), message)
    except (ValueError, binascii.Error, InvalidSignature):
        return False
    return True


def recipient(address: str) -> x25519.Recipient:
    """What encrypts to an address.

    Raises
    ------
    WrongKeyError
        When the text is not an address.
    """
    try:
        return x25519.Recipient.from_str(address.strip())
    except RecipientError:
        raise WrongKeyError(
            f"{address[:80]!r} is not a device's address; it begins with age1. "
            "On the other device, run: sideport bundle key"
        ) from None
