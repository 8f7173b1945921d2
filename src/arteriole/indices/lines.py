"""Published lines that several indices share."""

from typing import Final

from arteriole.indices.index import Cutoff

FFR_LINE: Final = Cutoff(name="FFR", relation="<=", value=0.80, source="[FFRReview2018]")
FFR_OLDER_LINE: Final = Cutoff(
    name="FFR, older line", relation="<=", value=0.75, source="[FFRReview2018]",
    note="no side: the older line, shown beside 0.80",
)  # fmt: skip
IMR_LINE: Final = Cutoff(
    name="IMR", relation=">=", value=25.0, source="[InocaTable2024]",
    note="[Ong2018] prints it as above 25",
)  # fmt: skip
