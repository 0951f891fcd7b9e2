"""Refusals that the keeper may overrule after seeing what they are about."""

import hashlib

from django.core.exceptions import ValidationError


class WantsConfirmation(ValidationError):
    """Refused until it is sent again with the `fingerprint` of exactly `what` was shown."""

    def __init__(self, message, code, what):
        super().__init__(message, code=code)
        self.what = what

    @property
    def fingerprint(self):
        return hashlib.sha256(";".join(self.what).encode()).hexdigest()[:16]

    def raise_unless(self, confirmed):
        if confirmed != self.fingerprint:
            raise self
