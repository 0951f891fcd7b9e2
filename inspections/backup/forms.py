"""Forms of back-ups: one that is sent, the word for restoring it, the folder elsewhere."""

from django import forms
from django.core.exceptions import ValidationError
from django.views.decorators.debug import sensitive_variables

from fleet.password_validators import check_not_endless
from fleet.services.sign_in import check_old_password
from fleet.services.sign_in_counts import TooManyTries

PATH_LENGTH = 1_000
WRONG = "This is not your password. Capitals matter. Type it again."


class SendBackupForm(forms.Form):
    file = forms.FileField(
        label="A back-up",
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".zip"}),
        help_text="A file that this page or the command backup made.",
        error_messages={"required": "Choose a back-up first.", "missing": "Choose a back-up first."},
    )


class RestoreForm(forms.Form):
    """Whoever is signed in says their password once more; guessed no faster than at the sign-in page."""

    password = forms.CharField(
        label="Your password",
        strip=False,
        validators=[check_not_endless],
        help_text="The one you signed in with today.",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    wait_s = None

    def __init__(self, *args, person, address, now, **kwargs):
        self.person, self.asked = person, {"address": address, "now": now}
        super().__init__(*args, **kwargs)

    @sensitive_variables()
    def clean_password(self):
        typed = self.cleaned_data["password"]
        try:
            check_old_password(self.person, typed, **self.asked)
        except TooManyTries as refusal:
            self.wait_s = refusal.wait_s
            raise
        except ValidationError as refusal:
            raise ValidationError(WRONG) from refusal
        return typed


class FolderForm(forms.Form):
    folder = forms.CharField(
        max_length=PATH_LENGTH,
        help_text="Its whole path on the computer that runs the app, such as /media/stick/pool.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}),
        error_messages={"required": "Write the path of a folder."},
    )
