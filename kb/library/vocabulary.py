"""The closed lists of ids that articles, trees and the county's files share.

They stand in one place because an incident, an article and a tree must mean the same by the
same word. Equipment classes are not here: they stand in `words.yaml`, which a county extends.
"""

from __future__ import annotations

KINDS = ("fault", "procedure", "checklist", "note")
PHASES = ("set-up", "opening", "voting", "closing", "return")
EFFECTS = ("stopped", "slowed", "device", "none")
RECORDS = ("base", "opened", "moved", "swap", "access", "custody", "check-in", "closing")
SYMPTOMS = (
    "jam",
    "multi-feed",
    "rejects-good",
    "rejects-many",
    "frozen",
    "restarted",
    "no-power",
    "stuck-start",
    "wrong-identity",
    "clock-wrong",
    "counter-odd",
    "memory-message",
    "slow",
    "noise",
    "alarm-sound",
    "code-refused",
    "will-not-open",
    "will-not-close",
    "will-not-latch",
    "will-not-lock",
    "full",
    "diverter",
    "seal-missing",
    "seal-broken",
    "touch-off",
    "audio-dead",
    "controls-dead",
    "wrong-ballot",
    "does-not-print",
    "faint",
    "torn",
    "out-of-paper",
    "will-not-connect",
    "low-battery",
    "found-item",
    "short-supply",
    "count-disagrees",
    "site-locked",
    "entrance-blocked",
    "line-long",
    "other",
)
