"""What a person can say to the daemon. An ask is never an order: the next scan answers it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Word(Enum):
    """The asks. The value is how they are written on the channel and at `stokehand tell`."""

    MADE_READY = "made_ready"
    BEGIN = "begin"
    LIT = "lit"
    HERE = "here"
    BURN_DOWN = "burn_down"
    BED_OUT = "bed_out"
    RESUME = "resume"
    SEEN = "seen"
    STOP = "stop"


@dataclass(frozen=True, slots=True)
class Ask:
    """One ask, who sent it (`page`, `terminal`, `button`, `attendant`), and the nonce it is answered under."""

    word: Word
    source: str = "terminal"
    nonce: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of an ask."""

    ask: Ask
    accepted: bool
    why: str


WORDS = {
    Word.MADE_READY: "Ware and cones are in, the grate is clean, the hopper is full and a spare bag stands by, "
    "the flue is open, nothing that burns is near the kiln.",
    Word.BEGIN: "Start the purge: the fan blows the kiln through. Stand clear of the flue.",
    Word.LIT: "The charcoal is lit and burns by itself, and the door is shut.",
    Word.HERE: "I am here.",
    Word.BURN_DOWN: "End the firing now: feed off, let the fire burn down.",
    Word.BED_OUT: "I looked through the spy-hole with eye protection: the bed is out.",
    Word.RESUME: "I looked through the spy-hole with eye protection: the bed burns and the cause is gone. Go on.",
    Word.SEEN: "I have read the alarms.",
    Word.STOP: "Stop: lock the feed out now.",
}
"""What a person states by sending each word."""
