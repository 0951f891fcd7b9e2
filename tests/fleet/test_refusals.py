"""What a service refuses is said where the form shows it."""

from django.core.exceptions import ValidationError

from fleet.forms.record_forms import CorrectionFields, add_refusal


def refused(refusal):
    form = CorrectionFields({"reason": "mistyped", "version": "1"})
    add_refusal(form, ValidationError(refusal))
    return form.errors.get_json_data(), form.refused.messages


def test_a_refusal_stands_at_its_field_else_above_the_form():
    at_field = {"reason": [{"message": "Say why.", "code": ""}]}
    above = {"__all__": [{"message": "Say why.", "code": ""}]}
    assert refused({"reason": "Say why."}) == (at_field, ["Say why."])
    assert refused("Say why.") == (above, ["Say why."])
    # a field that the form lacks, and one that nobody sees
    assert refused({"goes": "Say why."}) == (above, ["Say why."])
    assert refused({"version": "Say why."}) == (above, ["Say why."])
