"""All rows of the demo pool, made in memory from the seed and the day."""

from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from fleet.choices import UsageState
from fleet.models import (
    CableSegment,
    CableType,
    Depot,
    DesignPosition,
    Event,
    Fault,
    Fitting,
    Mat,
    MatDesign,
    Note,
    Price,
    UsageEvent,
)
from inspections.models import (
    AgreedValue,
    BenchDaySaid,
    Instrument,
    Measurement,
    PolicyValue,
    ReferencePiece,
    ReferenceReading,
)

from . import edge_cases, names, other_instruments, scenarios, season
from .bench import Bench
from .histories import Histories
from .left_longer import left_longer
from .pieces import piece_rows
from .prices import costs, prices

SEED = 20_170_311
# mats that were there when the records begin; the others were bought later
THERE_FROM_THE_START = 26


@dataclass
class DemoRows:
    """Unsaved rows in the order in which they can be stored."""

    depots: list[Depot]
    cable_types: list[CableType]
    designs: list[MatDesign]
    positions: list[DesignPosition]
    mats: list[Mat]
    segments: list[CableSegment]
    fittings: list[Fitting]
    events: list[Event]
    usage_events: list[UsageEvent]
    faults: list[Fault]
    instruments: list[Instrument]
    readings: list[Measurement]
    policy: list[PolicyValue]
    pieces: list[ReferencePiece] = field(default_factory=list)
    agreed_values: list[AgreedValue] = field(default_factory=list)
    piece_readings: list[ReferenceReading] = field(default_factory=list)
    said: list[BenchDaySaid] = field(default_factory=list)
    prices: list[Price] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)


def demo_rows(on, seed=SEED):
    """The whole pool as of `on`; the same for the same seed and day."""
    # its own stream for each part, so that a change in one leaves the others as they were
    register, weather, log, bench_days, lives, faults = (np.random.default_rng([seed, part]) for part in range(6))
    of_pieces = np.random.default_rng([seed, 105])
    begins_on = on - timedelta(days=int(365.25 * names.YEARS))
    rows = _register(register, on, begins_on)
    served = season.all_events(weather, on, begins_on)
    rows.usage_events = season.all_usage(log, on, served, rows.mats, _favour(register, rows.mats))
    rows.events = list({row.event.code: row.event for row in rows.usage_events}.values())
    longer = left_longer(rows.mats, on)
    bench = Bench(bench_days, on, begins_on, _benches(rows), longer)
    _live(rows, lives, bench)
    vars(rows).update(vars(piece_rows(of_pieces, on, rows.depots, bench)))
    rows.faults += [*edge_cases.faults_of_mats(faults, on, rows.mats), edge_cases.open_cable_fault(rows, on)]
    edge_cases.number_faults(rows.faults)
    rows.segments += edge_cases.spares({row.name: row for row in rows.cable_types}, on)
    rows.policy += costs()
    rows.prices = list(prices({row.name: row for row in rows.cable_types}, {row.code: row for row in rows.designs}))
    rows.notes = list(longer.notes())
    _give_serials(rows)
    edge_cases.make_dead(edge_cases.newest_reading(rows, scenarios.NO_SIGNAL))
    rows.readings += other_instruments.readings(rows, on)
    return rows


def _register(random, on, begins_on):
    depots = [Depot(name=name) for name in names.DEPOTS]
    types = {name: CableType(name=name, **values) for name, values in names.CABLE_TYPES.items()}
    designs = [
        MatDesign(code=build.code, width_m=build.width_m, folds_m=build.folds_m, weight_kg=build.weight_kg)
        for build in names.BUILDS
    ]
    return DemoRows(
        depots=depots,
        cable_types=list(types.values()),
        designs=designs,
        positions=[
            DesignPosition(design=design, number=number, length_m=length_m, cable_type=types[build.cable_type])
            for build, design in zip(names.BUILDS, designs, strict=True)
            for number, length_m in enumerate(build.lengths_m, 1)
        ],
        mats=_mats(random, on, begins_on, depots, designs),
        segments=[], fittings=[], events=[], usage_events=[], faults=[], readings=[],
        instruments=other_instruments.instruments(),
        policy=[PolicyValue(setting="has_bench", value=0, depot=depot) for depot in depots if _has_no_bench(depot)],
    )  # fmt: skip


def _has_no_bench(depot):
    return depot.name == names.DEPOT_WITHOUT_BENCH


def _mats(random, on, begins_on, depots, designs):
    mats, later = [], random.permutation(len(names.DEPOT_OF_MAT))[THERE_FROM_THE_START:].tolist()
    for row, depot in enumerate(names.DEPOT_OF_MAT):
        number, join_days = f"M-{row + 1:03d}", int(random.integers(120, 2500))
        mat = Mat(
            number=number,
            design=designs[names.BUILD_OF_MAT[row % len(names.BUILD_OF_MAT)]],
            depot=depots[names.DEPOTS.index(depot)],
            owner=names.OWNERS.get(row + 1, names.POOL_NAME),
            acquired_on=begins_on + timedelta(days=join_days if row in later else row % 7),
        )
        if number in scenarios.BOUGHT:
            mat.acquired_on = on - timedelta(days=scenarios.BOUGHT[number])
        if number == scenarios.WITHDRAWN:
            mat.acquired_on, mat.withdrawn_on = begins_on, on - timedelta(days=scenarios.WITHDRAWN_DAYS)
            mat.withdrawal_reason = "torn along two folds, not worth a new cover"
        mats.append(mat)
    return mats


def _favour(random, mats):
    """How often each mat is chosen, as a weight."""
    return {mat.number: random.lognormal(0.0, 0.5) for mat in mats}


def _benches(rows):
    """By depot: its instrument and the frequency that it measures at."""
    named = {instrument.name: instrument for instrument in rows.instruments}
    return {depot: (named[name], frequency_mhz) for depot, (name, _, frequency_mhz) in names.INSTRUMENTS.items()}


def _live(rows, random, bench):
    lives = Histories(random, bench.on, bench, _outings(rows.usage_events), bench.begins_on + timedelta(days=30))
    cable_types = {row.name: row for row in rows.cable_types}
    for row, mat in enumerate(rows.mats):
        later = [other for other in rows.mats[row + 1 :] if other not in bench.longer.mats]
        alike = [m for m in later if m.design is mat.design and m.depot is mat.depot]
        lives.live(mat, cable_types, alike)
    rows.segments, rows.fittings, rows.faults = lives.segments, lives.fittings, lives.faults
    rows.readings = bench.readings


def _outings(usage_events):
    """By mat number: (day as ordinal, weather) of each event it went to, in order; a loan is as many evenings."""
    outings = {}
    for row in usage_events:
        if row.state != UsageState.WENT:
            continue
        days = np.linspace(row.event.starts_on.toordinal(), row.event.ends_on.toordinal(), row.counts_for).astype(int)
        outings.setdefault(row.mat.number, []).extend((day, row.event.weather) for day in days.tolist())
    return {number: sorted(days) for number, days in outings.items()}


def _give_serials(rows):
    """Serials rise with the day of the first fitting; what was never fitted comes last."""
    first_on = {}
    for fitting in rows.fittings:
        known = first_on.get(id(fitting.segment), date.max)
        first_on[id(fitting.segment)] = min(known, fitting.fitted_on)
    rows.segments.sort(key=lambda segment: first_on.get(id(segment), date.max))
    for number, segment in enumerate(rows.segments, 1):
        segment.serial = f"C-{number:05d}"
