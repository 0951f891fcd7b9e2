"""Photos in forms: chosen or taken on the phone, checked by what they hold and made ready to be kept."""

from django import forms
from django.core.exceptions import ValidationError

from ..parsing.photos import LARGEST_BYTES, MIB, READ, NoPhoto, picture_to_keep
from .submissions import OnceForm

MOST_AT_ONCE = 4
_NAME_SHOWN = 60


class PhotosInput(forms.FileInput):
    """Asks for the kinds that can be read, so that phones that make others hand over a JPEG."""

    allow_multiple_selected = True

    def __init__(self):
        super().__init__(attrs={"accept": ",".join(READ), "multiple": True})


class PhotosField(forms.FileField):
    """Up to MOST_AT_ONCE photos; gives the bytes of the pictures that are kept of them, none where none came."""

    widget = PhotosInput

    def __init__(self, *, required=False, **kwargs):
        help_text = f"JPEG, PNG or WebP, up to {LARGEST_BYTES // MIB} MB each, {MOST_AT_ONCE} at once. "
        help_text += "Where and when it was taken is not kept with it."
        super().__init__(required=required, help_text=help_text, **kwargs)

    def clean(self, files, initial=None):
        if not files:
            return super().clean(None) or []
        if len(files) > MOST_AT_ONCE:
            raise ValidationError(f"These are {len(files)} photos. Add at most {MOST_AT_ONCE} at once.")
        return [self._picture(file) for file in files]

    def _picture(self, file):
        try:
            # one byte more says that it is too large; the rest of it is not read
            return picture_to_keep(file.read(LARGEST_BYTES + 1))
        except NoPhoto as error:
            raise ValidationError(f"“{file.name[-_NAME_SHOWN:]}” {error}") from error


class PhotosForm(OnceForm):
    photos = PhotosField(label="Photos", required=True, error_messages={"required": "Choose a photo, or take one."})
