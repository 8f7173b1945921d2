"""One file = one index; ``ALL`` in the order of the contract."""

from collections.abc import Collection
from types import ModuleType
from typing import Final

from arteriole.indices import (
    baseline_resistance_index,
    cfr_bolus,
    cfr_bolus_lag_corrected,
    cfr_continuous,
    cfr_over_ffr,
    collateral_flow_index,
    diastolic_ratio,
    ffr,
    ffr_drift_corrected,
    ffr_plateau,
    ffr_plateau_drift_corrected,
    full_cycle_ratio,
    imr,
    imr_corrected,
    imr_lag_corrected,
    imr_occlusion,
    late_diastolic_ratio,
    mrr_bolus,
    mrr_continuous,
    pullback_drop,
    pullback_gradient_index,
    q_hyper,
    q_rest,
    r_micro_hyper,
    r_micro_rest,
    resting_pd_pa,
    rrr,
    tmn_hyper,
    tmn_hyper_lag_corrected,
    tmn_rest,
    tmn_rest_lag_corrected,
)
from arteriole.indices.bound import as_bounds
from arteriole.indices.evidence import (
    Evidence,
    FlowEvidence,
    InjectionEvidence,
    Offset,
    Pressures,
    PullbackEvidence,
    Step,
    Unrest,
)
from arteriole.indices.index import Cutoff, Index, Withheld
from arteriole.indices.means import pressures_of
from arteriole.indices.unproven import as_unproven

#: Each module: ABOUT (its fixed words), formula(), from_evidence().
ALL: Final[tuple[ModuleType, ...]] = (
    resting_pd_pa, full_cycle_ratio, diastolic_ratio, late_diastolic_ratio,
    ffr, ffr_drift_corrected, ffr_plateau, ffr_plateau_drift_corrected,
    tmn_rest, tmn_hyper, cfr_bolus, imr, imr_corrected, imr_occlusion, cfr_over_ffr,
    baseline_resistance_index, rrr, mrr_bolus,
    tmn_rest_lag_corrected, tmn_hyper_lag_corrected, cfr_bolus_lag_corrected, imr_lag_corrected,
    q_rest, q_hyper, r_micro_rest, r_micro_hyper, cfr_continuous, mrr_continuous,
    pullback_drop, pullback_gradient_index, collateral_flow_index,
)  # fmt: skip
LAG_CORRECTED: Final = "_lag_corrected"
KEYS: Final = tuple(str(module.ABOUT.key) for module in ALL)

__all__ = [
    "ALL", "KEYS", "Cutoff", "Evidence", "FlowEvidence", "Index", "InjectionEvidence", "Offset",
    "Pressures", "PullbackEvidence", "Step", "Unrest", "Withheld", "compute", "pressures_of",
]  # fmt: skip


def compute(evidence: Evidence, keys: Collection[str] | None = None) -> tuple[Index, ...]:
    """Return every index in the order of the contract, withheld ones with their reason.

    Keys with the sensor's lag taken out are there only when the lag is on the sheet and the
    settings ask for them. ``keys`` restricts to some, for trials that change only those.
    """
    asked = evidence.settings.lag_corrected and evidence.sheet.sensor_lag_s is not None
    rows: list[Index] = [
        module.from_evidence(evidence)
        for module in ALL
        if (asked or not module.ABOUT.key.endswith(LAG_CORRECTED))
        and (keys is None or module.ABOUT.key in keys)
    ]
    if evidence.unrest is not None:
        rows = list(as_unproven(rows, evidence.unrest))
    if not evidence.not_full:
        return tuple(rows)
    rest = evidence.rest
    return as_bounds(rows, None if rest is None else rest.pd_mmhg / rest.pa_mmhg)
