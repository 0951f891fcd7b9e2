"""The signal by which the register and the log say that wear has changed."""

from django.dispatch import Signal

# Sent inside the transaction that changed the wear, so that a receiver's failure rolls both back.
# Arguments: segment_ids (iterable of primary keys, or None for the whole pool), on (date of the act).
wear_changed = Signal()
