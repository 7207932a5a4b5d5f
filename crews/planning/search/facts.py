"""The model as flat arrays for the compiled search, and the arrays it works on. Pure."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ..model import FAR_S, Model

Ints = npt.NDArray[np.int64]
Short = npt.NDArray[np.int32]
Bytes = npt.NDArray[np.uint8]
Words = npt.NDArray[np.uint64]

# columns of `Facts.option`
VISIT, LOW, HIGH, EXTRA = range(4)
# columns of `Facts.visit`
PLACE, ON_SITE, PENALTY, RANK, DEAREST, WIDTH, ABLE, OPENS, OPTIONS, OPTIONS_END, POOL, POOL_END, LINKS, LINKS_END = (
    range(14)
)
# columns of `Facts.shift`; the owner's weights stand with each
START, LAST, LENGTH, FREE, FIXED, FROM, TO, YARD, CALL, ANY_KIT, BREAKS = range(11)
W_DRIVE, W_DURATION, W_OVERTIME, W_UNEVENNESS, FAIR = range(11, 16)
# columns of `Facts.link`
TO_VISIT, AFTER, GAP_MIN, GAP_MAX = range(4)
# bits of `Facts.pair`; above them the cost of standing there instead of where the plan in force has the visit
OWN, FETCHED, MAY = 1, 2, 4
MOVED = 3
# columns of `Plans.tour` and `Plans.spot`
COUNT, ROW_COUNT, BASE, TOUR_COST, TOUR_VERSION = range(5)
WHERE, EARLIEST, LATEST = range(3)
# columns of a row: a place of a tour where a stop may go
P_D, P_E, P_L, P_AT, P_DRIVE, S_D, S_E, S_L, S_AT, S_DRIVE, R_D, R_E, R_L, CALLED, POSITION, WAY, ROW = range(17)
# entries of `Desk.sum`, rows of `Desk.pad`, columns of `Desk.gain`, first rows of `Desk.code`
COST, BEST, TURN, ROUNDS, VERSION, CLOSED, OPENED, BLINK = range(8)
TOUCHED, WAITING, KEY, QUEUE, ORDER, GONE, DIRTY, HOPED = range(8)
GAIN, GAIN_AT, GAIN_VERSION = range(3)
KEPT = 3
FOUND, KEPT_WAY, WAY_AT = 2, 2 + KEPT, 2 + 2 * KEPT
IMPOSSIBLE = 1 << 60
NEAR = 100


class Facts(NamedTuple):
    """What does not change during a search; rows are options, visits, shifts, places. Few arrays with many columns:
    each array more makes every compiled function larger."""

    time: Short
    option: Ints
    visit: Ints
    pair: Ints
    parts: Ints
    store: Ints
    shift: Ints
    rest: Ints
    link: Ints
    near: Short
    pool: Short


class Plans(NamedTuple):
    """A plan in arrays: option sequences, tours, places for further stops, and where each visit stands, with the box
    of starts that its links leave it."""

    seq: Short
    tour: Ints
    rows: Ints
    slack: Ints
    span: Ints
    spot: Ints


class Desk(NamedTuple):
    """Room to work in, and a few sums."""

    sum: Ints
    node: Ints
    code: Ints
    about: Ints
    before: Ints
    used: Ints
    pad: Ints
    box: Ints
    gain: Ints


def facts_of(model: Model) -> Facts:
    """Flat arrays of a model."""
    may = model.own * OWN + model.fetched * FETCHED + MAY
    pool_ends, pool = _pool(model)
    link_ends, link = _links(model)
    visit = _visit_table(model, pool_ends, link_ends)
    return Facts(
        time=np.ascontiguousarray(np.minimum(model.time, 2**31 - 1).astype(np.int32)),
        option=np.ascontiguousarray(
            np.stack([model.opt_visit, model.opt_earliest, model.opt_latest, model.opt_cost], axis=1)
        ),
        visit=visit,
        pair=np.ascontiguousarray(np.where(model.allowed, may, 0) + (model.moved << MOVED), dtype=np.int64),
        parts=model.parts,
        store=np.ascontiguousarray(np.stack([model.stock, np.where(model.stocked, FAR_S, model.stock)], axis=1)),
        shift=_shift_table(model),
        rest=_breaks(model),
        link=link,
        near=_neighbours(model, visit[:, OPENS]),
        pool=pool,
    )


def _visit_table(model: Model, pool_ends: Ints, link_ends: Ints) -> Ints:
    ends = np.cumsum([0, *(len(rows) for rows in model.options_of)], dtype=np.int64)
    width = [sum(model.options[o].latest_s - model.options[o].earliest_s for o in r) for r in model.options_of]
    opens = [min((model.options[o].earliest_s for o in rows), default=0) for rows in model.options_of]
    able = model.allowed.sum(0) if len(model.shifts) else np.zeros(len(width))
    columns = [
        model.loc, model.duration, model.penalty, _ranks(model), _dearest(model), width, able, opens,
        ends[:-1], ends[1:], pool_ends[:-1], pool_ends[1:], link_ends[:-1], link_ends[1:],
    ]  # fmt: skip
    return np.ascontiguousarray(np.stack([np.asarray(c, dtype=np.int64) for c in columns], axis=1))


def _shift_table(model: Model) -> Ints:
    rows, weights = [], model.problem.weights
    for s, shift in enumerate(model.shifts):
        yard = model.yard[s]
        any_kit = bool((model.allowed[s] & ~model.own[s]).any() or model.parts.any())
        rows.append(
            [
                shift.start_s,
                shift.last_s,
                shift.end_s - shift.start_s,
                int(shift.free_start),
                shift.fixed_cost,
                model.start_loc[s],
                model.end_loc[s],
                -1 if yard is None else model.travel.index[yard.place],
                0 if yard is None else yard.call_s,
                int(any_kit),
                len(shift.breaks),
                weights.drive,
                weights.duration,
                weights.overtime,
                weights.unevenness,
                model.fair_s,
            ]
        )
    return np.array(rows, dtype=np.int64).reshape(len(rows), 16)


def _breaks(model: Model) -> Ints:
    most = max([1, *(len(shift.breaks) for shift in model.shifts)])
    out = np.zeros((len(model.shifts), most, 3), dtype=np.int64)
    for s, shift in enumerate(model.shifts):
        for k, rest in enumerate(shift.breaks):
            out[s, k] = rest.duration_s, rest.earliest_s, rest.latest_s
    return out


def _links(model: Model) -> tuple[Ints, Ints]:
    ends = np.zeros(len(model.visits) + 1, dtype=np.int64)
    rows: list[tuple[int, bool, int, int]] = []
    for v in range(len(model.visits)):
        rows += model.links_of.get(v, [])
        ends[v + 1] = len(rows)
    return ends, np.array(rows, dtype=np.int64).reshape(len(rows), 4)


def _ranks(model: Model) -> Ints:
    """0 for a job's first visit; a visit that comes after others has a higher rank."""
    rank = np.zeros(len(model.visits), dtype=np.int64)
    changed = bool(model.links_of)
    while changed:
        changed = False
        for v, links in model.links_of.items():
            need = max((rank[u] + 1 for u, after, _, _ in links if not after), default=0)
            if need > rank[v]:
                rank[v], changed = need, True
    return rank


def _dearest(model: Model) -> Ints:
    """Penalty of a visit or of the dearest linked to it, so that what comes before a dear visit comes in time."""
    out = model.penalty.copy()
    for v, links in model.links_of.items():
        out[v] = max([out[v], *(model.penalty[u] for u, *_ in links)])
    return out


def _neighbours(model: Model, first: Ints) -> Short:
    """For each visit the others by nearness: on the map, and on the map and in time together; itself first."""
    visits = len(model.visits)
    keep = min(visits, NEAR)
    out = np.zeros((2, visits, keep), dtype=np.int32)
    if not visits:
        return out
    last = np.array([max((model.options[o].latest_s for o in rows), default=0) for rows in model.options_of])
    between = model.time[np.ix_(model.loc, model.loc)].astype(float)
    # least waiting between two visits, and least lateness, whichever comes first
    wait = np.maximum(first[None, :] - (last + model.duration)[:, None] - between, 0.0)
    late = np.maximum((first + model.duration)[:, None] + between - last[None, :], 0.0)
    ahead = between + 0.2 * wait + late
    for k, measure in enumerate((between, np.minimum(ahead, ahead.T))):
        np.fill_diagonal(measure, -1.0)
        out[k] = np.argsort(measure, axis=1, kind="stable")[:, :keep]
    return out


def _pool(model: Model) -> tuple[Ints, Short]:
    """The shifts that could serve each visit in some window."""
    first = np.zeros(len(model.visits) + 1, dtype=np.int64)
    start = np.array([shift.start_s for shift in model.shifts], dtype=np.int64)
    last = np.array([shift.last_s for shift in model.shifts], dtype=np.int64)
    pools = []
    for v, rows in enumerate(model.options_of):
        fits = np.zeros(len(model.shifts), dtype=bool)
        for o in rows:
            fits |= (model.opt_earliest[o] <= last) & (model.opt_latest[o] >= start)
        pools.append(np.flatnonzero(fits & model.allowed[:, v]).astype(np.int32))
        first[v + 1] = first[v] + len(pools[-1])
    return first, np.concatenate(pools) if pools else np.zeros(0, dtype=np.int32)


def most_stops(model: Model) -> int:
    """The most visits a tour can hold: by the shortest visits and the longest shift; 1 more for good measure."""
    if not model.shifts or not model.visits:
        return 1
    longest = max(shift.last_s - shift.start_s for shift in model.shifts)
    return max(
        1, min(len(model.visits), int(np.searchsorted(np.cumsum(np.sort(model.duration)), longest, "right")) + 1)
    )


def plans_of(facts: Facts, stops: int, ways: int) -> Plans:
    """Empty arrays for one plan."""
    shifts, visits, kinds = len(facts.shift), len(facts.visit), facts.parts.shape[1]
    nodes = stops + facts.rest.shape[1] + 3
    return Plans(
        seq=np.zeros((shifts, stops), dtype=np.int32),
        tour=np.zeros((shifts, 5), dtype=np.int64),
        rows=np.zeros((shifts, ways * nodes, ROW), dtype=np.int64),
        slack=np.zeros((shifts, ways, 2, kinds), dtype=np.int64),
        span=np.zeros((shifts, stops, 2), dtype=np.int64),
        spot=np.tile(np.array([-1, -FAR_S, FAR_S], dtype=np.int64), (visits, 1)),
    )


def desk_of(facts: Facts, stops: int, ways: int) -> Desk:
    """Room to work in, for plans of these sizes."""
    shifts, visits, kinds, options = len(facts.shift), len(facts.visit), facts.parts.shape[1], len(facts.option)
    nodes = stops + facts.rest.shape[1] + 3

    def ints(*shape: int) -> Ints:
        return np.zeros(shape, dtype=np.int64)

    desk = Desk(
        sum=ints(8),
        node=ints(stops + 1, 4),
        code=ints(WAY_AT + ways, nodes),
        about=ints(WAY_AT + ways, 3),
        before=ints(2 * nodes + 2, 5),
        used=ints(stops + 1, kinds),
        pad=ints(8, 4 * visits + shifts + 8),
        box=ints(visits, 2),
        gain=ints(options, shifts, 3),
    )
    desk.gain[:, :, GAIN_VERSION] = -1
    return desk
