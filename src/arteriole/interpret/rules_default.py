"""The default table: international criteria of microvascular angina, CFR 2.0 and IMR 25."""

from typing import Final

from arteriole.interpret.rules import Rule, Rules

DEFAULT: Final = Rules(
    name="default",
    version="1",
    epicardial=Rule(key="ffr", relation="<=", value=0.80, source="[FFRReview2018]"),
    resting=(
        Rule(key="late_diastolic_ratio", relation="<=", value=0.89, source="[CONTRAST2017]"),
        Rule(key="diastolic_ratio", relation="<=", value=0.89, source="[TwoWires2020]"),
        Rule(key="full_cycle_ratio", relation="<=", value=0.89, source="[FullCycle2023]"),
        Rule(key="resting_pd_pa", relation="<=", value=0.91, source="[CONTRAST2017]"),
    ),
    reserve=(Rule(key="cfr_bolus", relation="<", value=2.0, source="[Ong2018]"),),
    resistance=(Rule(key="imr", relation=">=", value=25.0, source="[InocaTable2024]"),),
    corrected=(
        Rule(key="imr_occlusion", relation=">=", value=25.0, source="[InocaTable2024]"),
        Rule(key="imr_corrected", relation=">=", value=25.0, source="[InocaTable2024]"),
    ),
    continuous_confirms=Rule(
        key="mrr_continuous", relation="<", value=2.1, source="[MRRNormal2023]"
    ),
    continuous_excludes=Rule(
        key="mrr_continuous", relation=">", value=2.7, source="[MRRNormal2023]"
    ),
    baseline=Rule(
        key="baseline_resistance_index", relation="<", value=47.1, source="[BasalIndex226]"
    ),
    narrowing_percent=90.0,
    sources=("[Ong2018]", "[Rahman2020]"),
)
