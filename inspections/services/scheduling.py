"""What is due, and when: every fitted segment assessed from all that is known of it."""


def reassess(segment_ids, *, on):
    """Assess these segments (None: all) again, in the caller's transaction."""


def ensure_assessed(on):
    """Bring assessments made on an earlier day to `on`; one cheap query when nothing is to do."""


def on_wear_changed(sender, segment_ids, on, **kwargs):
    reassess(segment_ids, on=on)
