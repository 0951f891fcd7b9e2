"""The standing text of a work order: the usual steps of work, and the cautions. A design may have its own steps.

Common practice of the trade, put in our own words; no source. Local codes and licensed practice come first.
"""

STEPS = (
    "Check that the number on the mat is the one on this sheet.",
    "Photograph the cable ends as they are and number each one.",
    "Hold the fixed half with a second spanner and turn only the nut. Stop if anything but the nut moves.",
    "Inspect both faces of each connector and clean them.",
    "Start each nut by hand, then finish with the torque tool.",
    "Route the new cable wider than its bend radius. Clamp its jacket and tug it lightly.",
    "Put each end back on its own position. Check the numbers.",
    "Measure and write the value down. Without an instrument, write “no instrument”.",
)

CAUTIONS = (
    "Switch the reader off, unplug it and secure it against being switched on.",
    "Never connect an analyser to a cable that has a reader on it.",
    "Let the mat dry before you open it.",
    "Lift with two people: {weight}.",
    "Block the fold open: crush hazard.",
    "Discharge static on a grounded metal part before you touch the board.",
    "Wear eye protection when cutting; cut braid is sharp.",
    "Cleaning solvent: no flame, and plenty of air.",
    "Wet gear near mains only behind a residual-current device.",
    "Every opening wears the mat: do not open it without a reason.",
    "Local codes and licensed practice take precedence over this sheet.",
)


def cautions_for(weight_kg):
    """The cautions, with the weight of the design; a weight nobody recorded is a blank to fill, not a guess."""
    weight = f"this mat weighs {weight_kg:g} kg" if weight_kg else "weight of this mat, not recorded: ____ kg"
    return [caution.format(weight=weight) for caution in CAUTIONS]


def steps_for(own_steps):
    """The design's own steps, one a line; else the usual ones."""
    own = [line.strip() for line in own_steps.splitlines() if line.strip()]
    return own or list(STEPS)
