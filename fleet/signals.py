"""The signals by which the register and the log say what changes, and ask what they do not know themselves."""

from django.dispatch import Signal

# Sent inside the transaction that changed the wear, so that a receiver's failure rolls both back.
# Arguments: segment_ids (iterable of primary keys, or None for the whole pool), on (date of the act).
wear_changed = Signal()

# Sent inside the transaction of a correction, before anything is changed. A receiver returns a function that is called
# with `confirmed` once all is changed; it may raise WantsConfirmation, which takes the correction back.
# Arguments: segment_ids (primary keys of the segments that are corrected, or whose fittings or readings are), on.
correction_begins = Signal()

# Sent where mats are to be chosen for a day. A receiver returns {primary key of a mat: why, printed in a few words} of
# those that should not go by that day, in a number of queries that does not grow with the mats.
# Arguments: mats (a list), day, on (the day of the clock).
unfit_asked = Signal()

# Sent beside it, for those that may go: a receiver returns {primary key: what is not known of it, in a few words},
# which depends on no day. Arguments: mats (a list), on (the day of the clock).
doubt_asked = Signal()
