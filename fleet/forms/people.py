"""Forms of accounts: a new one, another role, another password."""

from django import forms
from django.contrib.auth import forms as auth_forms
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.utils.html import format_html

from ..access import ACTS, LOOK
from ..password_validators import LONGEST, SHORTEST
from ..selectors.people import account_mark
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
            strip=False, max_length=LONGEST, widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}), **kwargs
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


class PersonForm(FirstAccountForm, RoleForm):
    field_order = ["name", "role", "password", "again"]


class SignInForm(auth_forms.AuthenticationForm):
    """Django's own form with our labels."""

    error_messages = {
        "invalid_login": "Name or password is wrong. Capitals matter in both.",
        "inactive": "This account is deactivated. Ask the keeper of the pool.",
    }

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Name"


class OwnPasswordForm(auth_forms.PasswordChangeForm):
    """Django's own form with our labels."""

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["old_password"].label = "Current password"
        # the page begins with something else
        del self.fields["old_password"].widget.attrs["autofocus"]
        self.fields["new_password1"].label = "New password"
        self.fields["new_password1"].help_text = PASSWORD_HELP
        self.fields["new_password2"].label = "Repeat the new password"
        self.fields["new_password2"].help_text = ""
