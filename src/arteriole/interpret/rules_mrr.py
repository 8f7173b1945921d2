"""Reserve of the bed alone: MRR 3.0 of a registry that mixed bolus and Doppler, with IMR 25."""

from dataclasses import replace
from typing import Final

from arteriole.interpret.rules import Rule, Rules
from arteriole.interpret.rules_default import DEFAULT

MRR: Final[Rules] = replace(
    DEFAULT,
    name="mrr",
    reserve=(Rule(key="mrr_bolus", relation="<=", value=3.0, source="[ILIAS2023]"),),
    sources=("[ILIAS2023]", "[MRRNormal2023]"),
)
