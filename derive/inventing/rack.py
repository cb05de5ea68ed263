"""The frames of the invented rack: who makes them, how they are drilled, and how many copies the scheme holds.

`main` and `cross` are the pitches the maker drills for, as a rest bed shows them in the centre window [mm].
`read` copies have their bed read, `unread` ones are in the rack but were never put to a rule; a frame with
neither is known from its maker's leaflet alone.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

MAKERS = ("Fellwright", "Oske & Tarn", "Brackwater", "Hollin Works", "Sundrel", "Lathemoor")


class Model(NamedTuple):
    """One frame of the rack (see the module)."""

    frame_id: str
    maker: str
    year: int
    mains: int
    crosses: int
    square_inches: int
    main: float
    cross: float
    read: int
    unread: int

    @property
    def edition(self) -> str:
        """retail or club."""
        return "club" if self.frame_id.endswith("-club") else "retail"

    @property
    def released(self) -> np.datetime64:
        """The first day a copy can have come to the rack."""
        return np.datetime64(f"{self.year}-03-01")

    @property
    def name(self) -> str:
        """The name on the frame: its id without the edition."""
        return self.frame_id.removesuffix("-club").replace("-", " ").capitalize()


# frame_id, maker (its place in MAKERS), year, pattern, square inches, main mm, cross mm, read, unread
_ROWS = """
fern-98          0 2021 16x19  98  10.70  11.65 3 0
fern-98-club     0 2021 16x19  98  10.35  11.40 2 0
fern-100         0 2021 16x19 100  11.25  12.10 2 0
fern-95          0 2020 18x20  95   9.60  11.20 1 0
moraine-98       0 2022 16x19  98   9.65  11.52 3 0
moraine-98-club  0 2022 16x20  98   9.75  11.10 1 0
drumlin-98       0 2022 18x20  98   9.75  11.40 2 0
tarn-95          0 2019 18x20  95   9.40  11.20 3 0
tarn-100         0 2019 18x20 100   9.64  11.49 4 0
squall-100       1 2023 16x19 100  10.50  11.60 2 0
squall-100-club  1 2023 16x19 100  10.20  11.45 1 0
meadow-100       1 2020 16x19 100  12.00  12.85 2 0
meadow-105       1 2020 16x19 105  12.30  13.00 1 0
meadow-110       1 2018 16x19 110  12.50  13.30 1 0
thistle-95       1 2024 16x19  95  10.00  11.20 2 0
thistle-95-club  1 2024 18x19  95   9.35  11.50 1 0
scree-97         1 2022 16x20  97  10.20  11.05 2 0
scree-97-club    1 2022 18x20  97   9.40  10.95 2 0
sorrel-98        2 2023 16x20  98  10.75  11.25 1 0
sorrel-98-club   2 2023 16x20  98  10.10  11.00 2 0
hoarfrost-96     2 2025 16x19  96   9.90  11.30 1 0
bracken-98       2 2021 16x19  98  10.75  11.65 2 0
bracken-98-club  2 2021 18x20  98   9.80  11.40 1 0
bracken-102      2 2021 16x19 102  11.35  12.20 1 0
rowan-97         2 2024 16x19  97  10.60  11.65 2 0
rowan-97-club    2 2024 16x19  97  10.85  11.80 1 0
juniper-95       2 2020 16x19  95  10.65  11.60 1 0
juniper-93       2 2017 18x20  93   9.35  10.85 1 0
willow-98        3 2019 16x19  98  11.30  12.25 4 0
willow-98-club   3 2019 16x19  98  11.00  11.95 1 0
willow-104       3 2019 16x19 104  11.90  12.55 1 0
gorse-98         3 2022 16x18  98  11.20  12.75 1 0
gorse-100        3 2022 16x18 100  11.50  12.95 2 0
sleet-96         3 2023 16x18  96  11.05  12.60 1 0
teasel-100       3 2021 14x18 100  12.80  12.65 1 0
teasel-102       3 2021 14x18 102  13.00  12.95 1 0
esker-99         3 2024 18x19  99   9.85  12.00 2 0
esker-99-club    3 2024 18x20  99   9.65  11.35 1 0
combe-100        4 2020 16x19 100  11.10  11.95 3 0
combe-100-club   4 2020 16x20 100  10.80  11.45 1 0
combe-107        4 2020 16x19 107  12.25  12.90 1 0
yarrow-100       4 2025 16x15 100  11.70  14.85 1 0
yarrow-105       4 2025 16x15 105  12.10  15.25 1 0
burdock-90       4 1994 18x20  90   9.15  10.80 1 0
burdock-89       4 1986 20x21  89   8.50  10.10 1 0
marl-98          4 2018 18x19  98   9.80  11.85 1 0
marl-100         4 2018 18x19 100  10.00  12.10 1 0
tansy-100        5 2022 16x20 100  11.00  11.60 2 0
tansy-100-club   5 2022 18x20 100   9.90  11.50 1 0
lichen-98        5 2025 16x19  98  11.50  12.30 1 0
lichen-98-club   5 2025 16x19  98  11.10  12.10 1 0
dune-102         5 2023 16x18 102  11.70  13.15 1 0
knoll-100        5 2021 16x19 100  11.35  12.35 4 0
knoll-100-club   5 2021 16x19 100  10.95  11.90 1 0
mizzle-104       5 2019 16x19 104  11.70  12.70 1 0
nettle-97        5 2020 18x20  97   9.65  11.20 1 0
sedge-95         0 2016 16x19  95  10.50  11.45 0 1
sedge-98         0 2016 16x19  98  10.90  11.85 0 1
sedge-98-18x20   0 2016 18x20  98   9.75  11.35 0 0
sedge-98-club    0 2016 16x20  98  10.50  11.15 0 0
drizzle-97       1 2026 16x19  97  10.70  11.75 0 1
drizzle-100      1 2026 16x19 100  11.20  12.05 0 0
drizzle-100-club 1 2026 18x20 100   9.75  11.45 0 0
hazel-105         2 2015 16x19 105  12.00  12.75 0 1
hazel-110         2 2015 16x18 110  12.40  13.85 0 0
clover-98        3 2014 16x19  98  11.00  11.95 0 0
clover-98-club   3 2014 18x20  98   9.65  11.25 0 1
bramble-93       3 1999 18x20  93   9.35  10.95 0 0
bramble-90       3 1997 16x18  90  10.60  12.15 0 0
lupin-100        4 2013 14x18 100  12.70  12.85 0 0
lupin-102        4 2013 16x18 102  11.60  13.05 0 1
vetch-99         5 2017 18x19  99   9.85  12.05 0 0
vetch-96         5 2017 16x20  96  10.50  11.15 0 0
"""


def _model(row: str) -> Model:
    frame_id, maker, year, pattern, size, main, cross, read, unread = row.split()
    mains, crosses = (int(count) for count in pattern.split("x"))
    return Model(
        frame_id, MAKERS[int(maker)], int(year), mains, crosses, int(size), float(main), float(cross), int(read),
        int(unread),
    )  # fmt: skip


RACK: tuple[Model, ...] = tuple(_model(row) for row in _ROWS.strip().splitlines())
"""Every frame of the demo, in the order of its catalogue."""

MEASURED = sum(model.read for model in RACK)
"""Copies in the demo whose bed is read."""
