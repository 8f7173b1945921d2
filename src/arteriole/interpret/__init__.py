"""Results and findings become statements, each with its cited line."""

from typing import Any, Final

from arteriole.interpret.expected import expected
from arteriole.interpret.flips import flips
from arteriole.interpret.next_acts import next_acts
from arteriole.interpret.rules import Rules, rules_from_mapping, table_named, with_lines_of
from arteriole.interpret.rules_cfr_2_5 import CFR_2_5
from arteriole.interpret.rules_default import DEFAULT
from arteriole.interpret.rules_mrr import MRR
from arteriole.interpret.state import state
from arteriole.interpret.statement import Flip, NextAct, Pattern, Statement

#: Rule tables by name, the default first.
RULES: Final[dict[str, Rules]] = {t.name: t for t in (DEFAULT, CFR_2_5, MRR)}

__all__ = [
    "RULES", "Flip", "NextAct", "Pattern", "Rules", "Statement", "expected", "flips", "next_acts",
    "own_rules", "rule_table", "state", "with_lines_of",
]  # fmt: skip


def rule_table(name: str | None = None) -> Rules:
    """Return the rule table of this name, the default where none is asked.

    Raises
    ------
    UnknownKey
        No table has this name; the message lists the names.
    """
    return table_named(name, RULES)


def own_rules(mapping: Any) -> Rules:
    """Return a laboratory's own table from parsed JSON or TOML, laid over the default.

    Raises
    ------
    OptionError
        A field, line or value that cannot be used.
    """
    return rules_from_mapping(mapping, DEFAULT)
