"""Where the sensor's own lag alone parts a deciding number from the other side of its line."""

from collections.abc import Mapping

from arteriole.indices.about import is_abnormal, line_as_printed, printed
from arteriole.indices.bolus import LAG
from arteriole.indices.index import Index
from arteriole.interpret.rules import Rules


def lag_told(indices: Mapping[str, Index], rules: Rules) -> tuple[str, ...]:
    """Return a sentence for each deciding index that the lag holds on its side of the line.

    Values without the lag carry no side: published lines were drawn with the lag of their own
    wires left in. The reader is told, the pattern stays.
    """
    told = []
    for rule in (*rules.reserve, *rules.resistance):
        one = indices.get(rule.key)
        if one is None or one.value is None:
            continue
        line, places = rule.as_cutoff(), one.decimals
        bad = is_abnormal(one.value, line, places)
        others = {k: v for k, v in one.alternatives.items() if k.startswith(LAG)}
        if not any(is_abnormal(v, line, places) != bad for v in others.values()):
            continue
        words = " and ".join(f"{printed(v, places):.{places}f} with {k}" for k, v in others.items())
        told.append(
            f"{one.label} {printed(one.value, places):.{places}f} is {words}, across the line "
            f"{line.relation} {line_as_printed(line.value)}; published lines were drawn with the "
            "lag of their own sensors left in, so the value as read stands."
        )
    return tuple(told)
