"""The only place with sentences about the status, refusals and faults: what a code means, for screen, speech, reports
and commands alike."""

from timerd.sheet.telling.faults import CLEAR, LIGHT_MAY_BE_ON, FaultWords, fault_in_short, fault_words
from timerd.sheet.telling.reasons import ink_words, mind_words, reason_words, unplugged_words, warming_words, worn_words
from timerd.sheet.telling.refusals import refusal_words, white_light_words

__all__ = [
    "CLEAR", "LIGHT_MAY_BE_ON", "FaultWords", "fault_in_short", "fault_words", "ink_words", "mind_words",
    "reason_words", "refusal_words", "unplugged_words", "warming_words", "white_light_words", "worn_words",
]  # fmt: skip
