"""Names and sizes of the Fenmark Lending Pool. Region, people, places, events, cables and mats are invented."""

from dataclasses import dataclass

POOL_NAME = "Fenmark Lending Pool"
YEARS = 8
DEPOTS = ("Quay Street", "Upper Mill", "Hangar 2")
DEPOT_WITHOUT_BENCH = "Hangar 2"
# mats of each depot, in order of their numbers
DEPOT_OF_MAT = ("Quay Street",) * 18 + ("Upper Mill",) * 16 + ("Hangar 2",) * 14
OWNERS = {3: "Sedgewater Striders", 11: "Sedgewater Striders", 22: "Upper Mill Rowers", 36: "Fallow Drove Wheelers"}
INSTRUMENTS = {"Quay Street": ("bridge Q1", 0.12, None), "Upper Mill": ("field meter 2", 0.15, 915.0)}
MEASURED_BY = ("Tam Oster", "Wren Hallow", "Ida Fenn")

# Two cables of our own naming. Their constants lie inside the spread of published tables: 5 mm coax of the RG-58 kind
# 0.380 to 0.394 dB/m at 400 MHz and 0.525 to 0.787 at 1 GHz; 2.5 mm coax of the RG-316 kind 0.558 to 0.607 and 0.905 to
# 1.017 (cable table of an open transmission-line calculator, and three open cable tables, as read in 2025).
# Torque: 3 to 5 in.lbf for brass threads, exactly 0.34 to 0.56 N·m (published window of small threaded connectors).
# The spanner of 8 mm is common practice, no source. What the invented maker of the thin one does not say stays empty.
CABLE_TYPES = {
    "Fen 5": {
        "db_per_m_400mhz": 0.38,
        "db_per_m_1000mhz": 0.69,
        "velocity_factor": 0.66,
        "bend_radius_mm": 25.0,
        "torque_min_nm": 0.34,
        "torque_max_nm": 0.56,
        "spanner_mm": 8.0,
        "connector_feed": "SMA plug",
        "connector_element": "SMA plug, angled",
    },
    "Fen 2.5": {
        "db_per_m_400mhz": 0.57,
        "db_per_m_1000mhz": 0.95,
        "velocity_factor": 0.69,
        "bend_radius_mm": 15.0,
        "connector_feed": "SMA plug",
    },
}


@dataclass(frozen=True)
class Build:
    """One mat design: its size and the cable of each position, position 1 first."""

    code: str
    width_m: float
    weight_kg: float
    cable_type: str
    lengths_m: tuple[float, ...]

    @property
    def folds_m(self):
        return [round(0.5 * fold, 1) for fold in range(1, int(self.width_m * 2))]


BUILDS = (
    Build("Fen 200", 2.0, 9.5, "Fen 2.5", (0.4, 0.75, 1.1, 1.45)),
    Build("Fen 400", 4.0, 17.0, "Fen 5", (0.4, 0.75, 1.1, 1.4, 1.75, 2.1, 2.4, 2.75)),
    Build("Fen 600", 6.0, 26.0, "Fen 5", (0.4, 0.7, 1.05, 1.35, 1.65, 2.0, 2.3, 2.6, 2.95, 3.25, 3.55, 3.9)),
)
# mat by mat, over and over: 18 of 2 m, 18 of 4 m, 12 of 6 m
BUILD_OF_MAT = (0, 1, 2, 0, 1, 2, 0, 1)

HILL, CANAL, GRAVEL = "hill run", "canal regatta, bank run", "gravel ride"
ROLLER, NIGHT = "roller-ski day", "night half marathon"
# shortest and longest hours out on one day
HOURS_OUT = {HILL: (3, 6), CANAL: (4, 8), GRAVEL: (6, 11), ROLLER: (3, 7), NIGHT: (4, 6)}
# (week of the year, place, kind, days): each comes back every year
EVENTS = (
    (3, "Cinder Bank", HILL, 1), (6, "Harl Tor", HILL, 1), (8, "Withy Lock", CANAL, 1),
    (10, "Pellbrook", HILL, 1), (11, "Long Sluice", GRAVEL, 1), (13, "Oxtarn", HILL, 1),
    (14, "Sedgewater", CANAL, 1), (15, "Thornscar", HILL, 1), (16, "Fallow Drove", GRAVEL, 2),
    (17, "Eskerby", ROLLER, 1), (18, "Brindlemere", CANAL, 2), (18, "Mossgate", HILL, 1),
    (19, "Cawdle Edge", HILL, 1), (20, "Kettlewater", ROLLER, 1), (21, "Wexley", CANAL, 2),
    (22, "Greywick", GRAVEL, 1), (22, "Dunnet Fold", HILL, 1), (23, "Marlhope", GRAVEL, 2),
    (24, "Tarnbeck", HILL, 1), (25, "Hollin Staithe", CANAL, 2), (25, "Skarnholt", ROLLER, 1),
    (27, "Ottermere", CANAL, 2), (28, "Rushen Gap", HILL, 1), (29, "Eldersike", GRAVEL, 1),
    (30, "Fenmark", NIGHT, 1), (31, "Nether Beck", HILL, 1), (32, "Lowmere", CANAL, 2),
    (33, "Brackwater", ROLLER, 1), (34, "Hob Moor", HILL, 1), (35, "Whinside", GRAVEL, 2),
    (36, "Two Weirs", CANAL, 1), (37, "Aldersyke", ROLLER, 1), (38, "Ravel Edge", HILL, 1),
    (39, "Stonewater", GRAVEL, 1), (40, "Millrace", CANAL, 1), (42, "Carr Top", HILL, 1),
    (43, "Old Towpath", GRAVEL, 1), (45, "Peat Lane", ROLLER, 1), (47, "Gallow Rise", HILL, 1),
    (49, "Lantern Bank", HILL, 1),
)  # fmt: skip
# a mat lent to one club for a spring or an autumn: (week, days, place, how many of its evenings are reported)
LOANS = ((17, 56, "Sedgewater", 26), (36, 56, "Upper Mill", 22))

FAULTS_OF_CABLES = ("jacket crushed at a fold", "nut turns, the cable with it", "braid shows behind the ferrule")
FAULTS_OF_MATS = {
    "element or board": "water under the cover of the board",
    "cover or fold": "cover split along a fold",
    "whole mat": "driven over by a van",
}
