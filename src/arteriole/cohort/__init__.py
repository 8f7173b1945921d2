"""Many recordings to one table; statistics of a table: shares, agreement, what drift costs."""

from arteriole.cohort.agreement import Agreement, agreement
from arteriole.cohort.reclassified import reclassified
from arteriole.cohort.share import Share

__all__ = ["Agreement", "Share", "agreement", "reclassified"]
