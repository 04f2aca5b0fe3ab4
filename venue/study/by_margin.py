"""What was offered and taken at each margin, with what visitors believed and what was true."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from venue.floor.offer_log import Line
from venue.floor.run import Floor
from venue.study.intervals import ratio

# Bands that the spread of final margins is cut into; where that leaves less than a point, each margin is its own.
_BANDS_IN_A_SPREAD = 8


@dataclass(frozen=True)
class OffersAt:
    """Offers of one title at the breaks with one margin, in one replication.

    Attributes
    ----------
    margin
        Points ahead of the visitor who is offered: the middle of a band.
    band
        How many points wide the band is, an odd number; 1 unless margins are many.
    perceived, true
        Sums of the chances to win, as perceived and by the chain.
    """

    title: str
    margin: int
    band: int
    offers: int
    taken: int
    perceived: float
    true: float


def band_of(spread: float) -> int:
    """How many points wide bands are, by the spread of final margins; an odd number, so that one lies about level."""
    return 2 * int(spread / _BANDS_IN_A_SPREAD) + 1


def offers_by_margin(floor: Floor) -> tuple[OffersAt, ...]:
    """Offers of a finished run after its warm-up, by title and rising margin."""
    found = []
    titles = {row.title.number: (row.machine.title, row.title) for row in floor.rows if row.title is not None}
    for number, (key, title) in sorted(titles.items()):
        bands: defaultdict[int, Line] = defaultdict(Line)
        band = band_of(title.tables.spread)
        for margin, line in floor.ledger.offers.by_margin[number].items():
            bands[band * round(margin / band)].add(line)
        for margin, line in sorted(bands.items()):
            taken = line.offered - line.refused
            found.append(OffersAt(key or "", margin, band, line.offered, taken, line.perceived, line.true))
    return tuple(found)


def gathered(replications: Sequence[Sequence[OffersAt]]) -> list[dict[str, Any]]:
    """All replications together, as plain data: shares taken, mean perceived and true chance, with intervals."""
    keys = list(dict.fromkeys((item.title, item.margin) for offers in replications for item in offers))
    titles = list(dict.fromkeys(title for title, _ in keys))
    by_key = [{(item.title, item.margin): item for item in offers} for offers in replications]
    rows = []
    for title, margin in sorted(keys, key=lambda key: (titles.index(key[0]), key[1])):
        known = next(found[title, margin] for found in by_key if (title, margin) in found)
        none = OffersAt(title, margin, known.band, 0, 0, 0.0, 0.0)
        items = [found.get((title, margin), none) for found in by_key]
        offers = [item.offers for item in items]
        row: dict[str, Any] = {"title": title, "margin": margin, "band": known.band, "offers": sum(offers)}
        for name in ("taken", "perceived", "true"):
            share = ratio([getattr(item, name) for item in items], offers)
            if share is not None:
                row[name] = share.to_dict()
        rows.append(row)
    return rows
