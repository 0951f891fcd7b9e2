def on_wear_changed(sender, segment_ids, on, **kwargs):
    pass
