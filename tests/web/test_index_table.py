"""The Bench's index table: an index without a published line has none to be near of."""

import pytest

from arteriole.indices import Cutoff, Index
from arteriole.web.bench import index_table
from arteriole.web.texts import texts_in

LINE = Cutoff(name="line", relation="<=", value=0.8, source="[FFRReview2018]")


@pytest.mark.parametrize(
    ("cutoffs", "language", "word"),
    [((), "en", "no line"), ((), "de", "keine Grenze"), ((LINE,), "en", "cannot say")],
)
def test_the_word_beside_a_value_says_whether_there_is_a_line(
    cutoffs: tuple[Cutoff, ...], language: str, word: str
) -> None:
    one = Index(
        key="tmn_rest", label="Tmn at rest", unit="s", method="bolus", value=1.2,
        interval95=(1.1, 1.3), certainty="cannot say", formula="mean", source="[Pijls2002]",
        cutoffs=cutoffs,
    )  # fmt: skip
    shown = str(index_table(texts_in(language), [one]))

    assert word in shown
    assert ("cannot say" in shown) is (word == "cannot say")
