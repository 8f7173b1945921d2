"""What the stenosis itself does to flow reserve and resistance: the forms side by side, in words.

Flow reserve is that of the whole vessel. Divided by FFR it is what the bed would have without the
stenosis, as long as the bed's resistance stays what it is; MRR allows for the fall of Pa as well
[DeBruyne2021]. Plain IMR takes Pd * Tmn for the bed's resistance and so leaves out what collaterals
bring; the occlusion form measures that [Layland2012], the Yong form estimates it [Yong2013].
"""

from collections.abc import Mapping

from arteriole.indices.about import NO_SIDE, is_abnormal, line_as_printed, printed
from arteriole.indices.index import Cutoff, Index
from arteriole.interpret.reading import ONSET
from arteriole.interpret.rules import Rules

Rows = Mapping[str, Index]
BEYOND = {"<": "below", "<=": "at or below", ">": "above", ">=": "at or above"}


def under_stenosis(indices: Rows, rules: Rules) -> tuple[str, ...]:
    """Return what the stenosis explains of a low flow reserve, and which IMR speaks behind it."""
    return tuple(filter(None, (_reserve(indices, rules), _resistance(indices, rules))))


def _reserve(indices: Rows, rules: Rules) -> str:
    """Return whether a low flow reserve is explained by the stenosis; "" where it is not low."""
    cfr, ffr, without = (_given(indices, k) for k in ("cfr_bolus", "ffr", "cfr_over_ffr"))
    if cfr is None or ffr is None or without is None or without.value is None:
        return ""
    line = _line(cfr, rules)
    if line is None or not _past(cfr, line):
        return ""
    told = f"{cfr.label} {_shown(cfr)} over FFR {_shown(ffr)} is {_shown(without)}"
    if without.interval95 is not None:
        low, high = (f"{x:.{without.decimals}f}" for x in without.interval95)
        told += f" ({low} to {high})"
    mrr = _given(indices, "mrr_bolus")
    if mrr is not None:
        told += f", MRR {_shown(mrr)}"
    obstructed = _past(ffr, rules.epicardial.as_cutoff())
    clear = ffr.certainty == "clear of the line"
    return (
        f"{told}: {_explained(without, line, obstructed=obstructed, clear=clear)} [DeBruyne2021]."
    )


def _explained(without: Index, line: Cutoff, *, obstructed: bool, clear: bool) -> str:
    """Return what follows from CFR/FFR for a flow reserve that is past its line."""
    assert without.value is not None
    beyond = f"{BEYOND[line.relation]} {line_as_printed(line.value)}"
    places, onset = without.decimals, without.alternatives.get(ONSET)
    still = is_abnormal(without.value, line, places)
    ends = {is_abnormal(x, line, places) for x in without.interval95 or ()}
    if not obstructed:
        if still and clear:
            return f"still {beyond}, and FFR shows no stenosis that would explain it"
        if still:
            return (
                f"still {beyond}, so what narrowing there is does not explain it; FFR is not clear "
                "of its line"
            )
        return (
            f"no longer {beyond}, though FFR lies above its line: what the narrowing takes is "
            "enough to move it"
        )
    if len(ends) > 1:
        return f"not told from {beyond}, so whether the stenosis alone explains it is open"
    if onset is not None and is_abnormal(onset, line, places) != still:
        return (
            f"by the onset convention {onset:.{places}f}, on the other side, so whether the "
            "stenosis alone explains it is open"
        )
    if still:
        return f"still {beyond}, so the stenosis alone does not explain the low flow reserve"
    return f"no longer {beyond}, so the stenosis alone can explain the low flow reserve"


def _resistance(indices: Rows, rules: Rules) -> str:
    """Return the forms of IMR with what each is for; "" where no stenosis asks for it."""
    plain, yong, wedge = (_given(indices, k) for k in ("imr", "imr_corrected", "imr_occlusion"))
    ffr = _given(indices, rules.epicardial.key)
    if plain is None:
        return ""
    domain = yong is not None and not all(c.note.startswith(NO_SIDE) for c in yong.cutoffs)
    obstructed = ffr is not None and _past(ffr, rules.epicardial.as_cutoff())
    if not (domain or obstructed):
        return ""
    forms = [f"plain {_shown(plain)}, which collateral flow raises"]
    if yong is not None:
        place = "from the pressures alone" if domain else "outside its domain at this Pd/Pa"
        forms.append(f"Yong form {_shown(yong)}, {place} [Yong2013]")
    if wedge is not None:
        forms.append(f"occlusion form {_shown(wedge)}, collateral flow measured [Layland2012]")
    else:
        forms.append(f"occlusion form not given{_why_not(indices, 'imr_occlusion')}")
    speaks = "occlusion" if wedge is not None else "Yong" if domain else "plain"
    return f"IMR behind the stenosis: {'; '.join(forms)}. The {speaks} form speaks."


def _given(indices: Rows, key: str) -> Index | None:
    one = indices.get(key)
    return one if one is not None and one.value is not None else None


def _why_not(indices: Rows, key: str) -> str:
    """Return the index's own reason for being withheld, in brackets; "" where it has none."""
    one = indices.get(key)
    if one is None or one.withheld is None:
        return ""
    reason = one.withheld.reason.rstrip(".")
    return f" ({reason[0].lower()}{reason[1:]})"


def _line(cfr: Index, rules: Rules) -> Cutoff | None:
    """Return the line of flow reserve: the table's, else the index's own first."""
    own = next((r.as_cutoff() for r in rules.reserve if r.key == cfr.key), None)
    return own or next(iter(cfr.cutoffs), None)


def _past(one: Index, line: Cutoff) -> bool:
    return one.value is not None and is_abnormal(one.value, line, one.decimals)


def _shown(one: Index) -> str:
    assert one.value is not None
    return f"{printed(one.value, one.decimals):.{one.decimals}f}"
