"""The signals by which the register and the log say that wear has changed, or is about to be corrected."""

from django.dispatch import Signal

# Sent inside the transaction that changed the wear, so that a receiver's failure rolls both back.
# Arguments: segment_ids (iterable of primary keys, or None for the whole pool), on (date of the act).
wear_changed = Signal()

# Sent inside the transaction of a correction, before anything is changed. A receiver returns a function that is called
# with `confirmed` once all is changed; it may raise WantsConfirmation, which takes the correction back.
# Arguments: segment_ids (primary keys of the segments that are corrected, or whose fittings or readings are), on.
correction_begins = Signal()
