"""The virtual patient: a physical model that gives recordings with known truth.

``session(pattern, seed)`` returns recording, sheet and truth; :data:`PATTERNS` and
:data:`ARTEFACTS` name what there is; :func:`draw` draws the settings of a cohort's sessions.
Nothing here reads analysis code, so the truth cannot lean on what it tests.
"""

from arteriole.simulate.draw import Draw, draw
from arteriole.simulate.faults import ARTEFACTS
from arteriole.simulate.patient import SETTABLE, Patient
from arteriole.simulate.patterns import PATTERNS
from arteriole.simulate.session import Session, drawn_session, session, session_of

__all__ = [
    "ARTEFACTS", "PATTERNS", "SETTABLE", "Draw", "Patient", "Session", "draw",
    "drawn_session", "session", "session_of",
]  # fmt: skip
