"""Signing in where some passwords are known to everybody."""

from django.core.exceptions import ValidationError

from fleet.forms.people import SignInForm
from fleet.views.first_account import is_from_this_computer

from .accounts import ACCOUNTS

PRINTED = {account.password for account in ACCOUNTS}
HERE_ONLY = (
    "Everybody can read the passwords of the demo, so they work on the pool’s own computer only. Ask the keeper for an "
    "account of your own."
)


class CarefulSignInForm(SignInForm):
    """A password of the demo lets nobody in from elsewhere, whosever it is."""

    def clean(self):
        if self.cleaned_data.get("password") in PRINTED and not is_from_this_computer(self.request):
            raise ValidationError(HERE_ONLY, code="printed")
        return super().clean()
