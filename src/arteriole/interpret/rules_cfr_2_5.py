"""The other published reserve line: CFR 2.5 with IMR 25."""

from dataclasses import replace
from typing import Final

from arteriole.interpret.rules import Rule, Rules
from arteriole.interpret.rules_default import DEFAULT

CFR_2_5: Final[Rules] = replace(
    DEFAULT,
    name="cfr-2.5",
    reserve=(Rule(key="cfr_bolus", relation="<=", value=2.5, source="[Rahman2020]"),),
    sources=("[Rahman2020]",),
)
