"""The standing text of a work order: the usual steps of work, and the cautions. A design may have its own steps.

Common practice of the trade, put in our own words; no source. Local codes and licensed practice come before this.
"""

from string import ascii_lowercase

# once a mat, before the first cable
BEFORE = (
    "Compare the number on the mat with this sheet.",
    "Make it safe: reader off, battery out, feed lead off the mat.",
    "Lay the mat flat at waist height and wipe it dry.",
    "Open it by its cover. Never pull on a cable.",
    "Photograph the cable ends and number each one.",
)
# each has a box in the row of its cable, under its letter
FOR_EACH = (
    "Undo the clamps on the jacket before you touch a nut.",
    "Loosen the nut: a short spanner, square on it. The cable must not turn with the nut. Hold the fixed half with a "
    "second spanner where it has flats, else put a hand behind the board. Stop if the board bows, or if anything but "
    "the nut moves.",
    "Lay the old and the new cable side by side: same length, same connectors. Inspect the faces of the connectors "
    "and clean them. Check the position against its number.",
    "Start the nut by hand. Finish with the torque tool. Without one: finger-tight and a small fraction of a turn. "
    "If the thread binds, back off and look.",
    "Thread the jacket through every clamp: straight for some diameters behind the connector, then wider than its "
    "bend radius, and with slack.",
)
# once a mat, when the last cable is in
AFTER = (
    "Fold the mat once, slowly, and look: no cable may be pinched, pulled or kinked.",
    "Test every new cable. With an instrument: measure it and write the value down. Without one: reader at low power, "
    "a transponder over each element in turn, and write “read” or “not read”. A mat with one that is not read stays.",
    "Close the mat. Mark the old cables, so that none of them is fitted again.",
)

CAUTIONS = (
    "Switch the reader off, take its battery out, unplug it and secure it against being switched on.",
    "No analyser on a cable that has a reader on it.",
    "Let the mat dry before you open it. No hot air.",
    "Lift with two people, from the knees: {weight}, more when wet.",
    "Block the fold open: crush hazard.",
    "Eye protection when cutting: cut braid is sharp.",
    "Discharge static on a grounded metal part before you touch the board.",
    "Cleaning solvent: no flame, and plenty of air.",
    "Wet gear near mains only behind a residual-current device.",
    "Never fold it away or store it damp.",
    "Every opening wears the mat: have a reason.",
    "Local regulations and licensed practice take precedence over this sheet.",
)


def cautions_for(weight_kg):
    """The cautions, with the weight of the design; a weight nobody recorded is a blank to fill, not a guess."""
    known = f"this mat weighs {weight_kg:g}\N{NO-BREAK SPACE}kg" if weight_kg else ""
    weight = known or "weight of this mat, not recorded: ____ kg"
    return [caution.format(weight=weight) for caution in CAUTIONS]


def step_letters(sheet):
    """The letters of the steps for each cable; none on older sheets and where a design has its own steps."""
    steps = sheet["steps"]
    return ascii_lowercase[: len(steps["each"])] if isinstance(steps, dict) else ""


def steps_for(own_steps):
    """What is done once a mat and what for each cable; the design's own steps, one a line, as a plain list instead."""
    own = [line.strip() for line in own_steps.splitlines() if line.strip()]
    return own or {"before": list(BEFORE), "each": list(FOR_EACH), "after": list(AFTER)}
