"""Forms of accounts: signing in, a new one, another role, another password."""

from contextlib import contextmanager

from django import forms
from django.contrib.auth import forms as auth_forms
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.utils.html import format_html
from django.views.decorators.debug import sensitive_variables

from ..access import ACTS, LOOK
from ..password_validators import LONGEST, SHORTEST, check_not_endless
from ..selectors.people import account_mark
from ..services.known_browsers import UNKNOWN
from ..services.sign_in import check_old_password, sign_in
from ..services.sign_in_counts import TooManyTries
from ..validators import check_code
from .record_forms import MarkForm

ROLE_CHOICES = [
    (role, format_html("<span><b>{}</b>: may {}{}</span>", role, "" if role == LOOK else "also ", acts))
    for role, acts in ACTS.items()
]
PASSWORD_HELP = f"At least {SHORTEST} characters. Best are several words that do not belong together."


class _NewPasswordField(forms.CharField):
    def __init__(self, **kwargs):
        super().__init__(
            strip=False,
            max_length=LONGEST,
            widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
            **kwargs,
        )


class RoleForm(forms.Form):
    role = forms.ChoiceField(choices=ROLE_CHOICES, initial=LOOK, widget=forms.RadioSelect)


class PasswordForm(forms.Form):
    password = _NewPasswordField(label="New password", help_text=PASSWORD_HELP)
    again = _NewPasswordField(label="Repeat the password")

    def clean(self):
        values = super().clean()
        if {"password", "again"} <= set(values) and values["password"] != values["again"]:
            self.add_error("again", "The two passwords differ. Type them again.")
        return values

    @property
    def act_values(self):
        return {name: value for name, value in self.cleaned_data.items() if name != "again"}


class AccountForm(MarkForm):
    """A button of one account."""

    version_of = staticmethod(account_mark)


class RoleChangeForm(RoleForm, AccountForm):
    """Another role."""


class PasswordChangeForm(PasswordForm, AccountForm):
    """Another password, for somebody who forgot theirs."""


class FirstAccountForm(PasswordForm):
    name = forms.CharField(
        max_length=150,
        validators=[check_code, UnicodeUsernameValidator(message="Letters, digits and @ . + - _ only, no spaces.")],
        help_text="For signing in, and beside each record: letters, digits and @ . + - _, no spaces.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    password = _NewPasswordField(label="Password", help_text=PASSWORD_HELP)

    field_order = ["name", "password", "again"]


class FirstAccountWithCodeForm(FirstAccountForm):
    """`check` says what is wrong with the code."""

    code = forms.CharField(
        label="Code from the terminal",
        max_length=40,
        help_text="Eight letters. Capitals and the line between them do not matter.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}),
    )

    field_order = ["code", *FirstAccountForm.field_order]

    def __init__(self, *args, check, **kwargs):
        super().__init__(*args, **kwargs)
        self._check = check

    def clean_code(self):
        self._check(self.cleaned_data["code"])
        return self.cleaned_data["code"]

    @property
    def act_values(self):
        return {name: value for name, value in super().act_values.items() if name != "code"}


class PersonForm(FirstAccountForm, RoleForm):
    field_order = ["name", "role", "password", "again"]


class SignInForm(auth_forms.AuthenticationForm):
    """Django's own form with our labels; it lets in whom `sign_in` lets in."""

    # what is longer is refused before anybody looks at it; no browser should cut it silently
    password = forms.CharField(
        strip=False,
        validators=[check_not_endless],
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    wait_s = None

    def __init__(self, *args, address="", browser=UNKNOWN, now=None, **kwargs):
        self.asked = {"address": address, "browser": browser, "now": now}
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Name"

    @sensitive_variables()
    def clean(self):
        values = self.cleaned_data
        if values.get("username") and values.get("password"):
            with _wait_noted(self):
                self.user_cache = sign_in(values["username"], values["password"], **self.asked)
        return values


class OwnPasswordForm(auth_forms.PasswordChangeForm):
    """Django's own form with our labels; the old password is guessed no faster than at the sign-in page."""

    old_password = forms.CharField(
        label="Current password",
        strip=False,
        validators=[check_not_endless],
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    new_password1 = _NewPasswordField(label="New password", help_text=PASSWORD_HELP)
    new_password2 = _NewPasswordField(label="Repeat the new password")

    wait_s = None

    def __init__(self, *args, address="", now=None, **kwargs):
        self.asked = {"address": address, "now": now}
        super().__init__(*args, **kwargs)

    @sensitive_variables()
    def clean_old_password(self):
        typed = self.cleaned_data["old_password"]
        with _wait_noted(self):
            check_old_password(self.user, typed, **self.asked)
        return typed


@contextmanager
def _wait_noted(form):
    """The form says how long to wait, too: the answer tells it to the browser."""
    try:
        yield
    except TooManyTries as refusal:
        form.wait_s = refusal.wait_s
        raise
