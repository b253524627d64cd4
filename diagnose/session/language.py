"""Plain English as people type it: words cut to their stem, words that say no more than grammar, words that mean the same.

Only the language is told here. What the words mean on an engine stands in the book.
"""

from __future__ import annotations

import re
from functools import lru_cache

WORD = re.compile(r"[a-z0-9]+(?:'[a-z]+)?")
NOT = "not"
"""The one word that stands for every way of saying no."""

_NO_TEXT = """
    no not never none nothing without cannot nowhere neither nor nobody
    cant wont dont doesnt didnt isnt wasnt arent hasnt havent couldnt wouldnt
"""
_SAYS_NO = frozenset(_NO_TEXT.split())
_STOP_TEXT = """
    a an the and or but of in on at to from by for with as is are was were be been am it its this that these those
    there i me my we our you your he she her his him they them their who which what when where how do does did has
    have had having so very quite just some any all also too then than now still again about into if because after
    before while during since seems seem looks look looking like bit little got get gets getting can could will
    would may might one two three kind sort thing something think thought noticed noticing see saw seen found find
    finds s t m re ve ll
"""
STOP = frozenset(_STOP_TEXT.split())
"""Words that carry grammar. They count for nothing where a piece has others."""

_FAINT_TEXT = """
    hour hours minute minutes second seconds day days week weeks month months year years season night morning evening dawn noon today
    yesterday tonight later early late lately first last next once twice again always never often sometimes time times while long short
    engine boat her starboard port side left right forward aft way home sail under motoring motor trip passage leaving left harbour
    berth dock quay marina anchor started starting start restart told known place somewhere nobody people new old small little big
    slight slightly much more less than usual usually suddenly quickly slowly strange odd funny whole lot both each other another
    came come comes coming went go goes going gone make makes made taken take put turned
"""
_ALIKE_TEXT = """
    drip drop dribble
    weep seep ooze
    leak weep seep drip escape lose
    wet damp moist
    water seawater
    crust deposit scale build
    stain mark track streak
    stream flow spit spurt
    noise sound racket
    squeal scream screech squeak shriek
    rumble growl grumble groan
    knock bang thump clonk clunk hammer
    rattle clatter chatter
    whine howl whistle
    smoke fume
    smell stink reek odour
    steam vapour
    overheat hot boil burning
    hot temperature heat
    note tone pitch sound
    loud noisy
    pool puddle
    pour run stream gush flood
    none stop nothing
    tray pan
    film sheen slick
    spray jet spurt fling throw
    touch feel
    bottle expansion overflow
    hole slot
    piece bit part fragment
    full maximum top
    revs speed
    power thrust push
    hesitate slow labour
    climb rise creep
    bay space compartment room
    shut closed
    fall sink
    run pour
    gurgle bubble
    scum sludge slime
    wave swell
    smell smelt
    sank sunk sink flood
    nut bolt stud
    bend bent
    gauge needle
    lamp light bulb
    alarm buzzer beeper siren
    stop die quit stall cut
    start fire
    loose slack wobble play
    worn wear tired
    broken snapped parted torn
    crack split
    rust corrode corrosion rot
    salt salty
    milky creamy emulsion mayonnaise coffee
    soot black sooty
    shake vibrate vibration shudder judder
    hose pipe tube
    clip clamp
    antifreeze coolant
    diesel fuel
    raw sea
    prop propeller
    revs rpm revolutions
    tachometer tacho
    weak poor less reduced
    low down short
    level mark
    dirt muck debris grit
    blocked choked clogged plugged
    strainer sieve
    alternator generator dynamo
    gearbox transmission
    sump pan
    dipstick stick
    exhaust stern
    gland stuffing
    seized stuck jammed
"""
"""Words of a line stand for one another, at a discount. Ordinary English and the trade's own doublets, from memory."""

_WANTED_TEXT = "power thrust charge charging drive pressure revs rev start crank turn fire engage respond response speed stream flow"
_SPELT_TEXT = """
    guage gauge, exaust exhaust, exhast exhaust, temps temperature, temp temperature, batt battery, colour color, grey gray,
    vibs vibration, thermo thermostat, revving revs
"""
_SPELT = dict(pair.split() for pair in _SPELT_TEXT.split(","))
"""How people shorten and misspell words of the trade that a typing error does not explain."""


def words_of(text: str) -> list[str]:
    """The words of a text in small letters, as they stand."""
    return [word.replace("'", "") for word in WORD.findall(text.lower().replace("’", "'"))]


def says_no(word: str) -> bool:
    """Whether a word denies what follows it."""
    return word in _SAYS_NO


_ENDINGS = (("sses", 2, "ss"), ("ies", 2, "y"), ("ing", 3, ""), ("edly", 3, ""), ("ed", 3, ""), ("ly", 4, ""), ("es", 4, "e"),
            ("ss", 1, "ss"), ("us", 1, "us"), ("is", 1, "is"), ("s", 3, ""), ("ened", 3, "en"), ("y", 4, ""))
"""Endings, each with the least that must be left of the word and with what takes its place. The first that fits counts."""


@lru_cache(maxsize=50_000)
def stem(word: str) -> str:
    """A word without the endings that grammar puts on it; every way of saying no becomes one word."""
    if says_no(word):
        return NOT
    word = _SPELT.get(word, word)
    if len(word) <= 3 or word.isdigit():
        return word
    for ending, least, left in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= least:
            return _bare(word[: len(word) - len(ending)] + left)
    return _bare(word)


def _bare(word: str) -> str:
    """The word without a doubled last consonant or a silent e, so that 'dripping' and 'drip', 'leaving' and 'leave' meet."""
    if len(word) > 3 and word[-1] == word[-2] and word[-1] in "bdgmnprt":
        return word[:-1]
    return word[:-1] if len(word) > 3 and word.endswith("e") else word


def stems_of(text: str, *, bare: bool = False) -> list[str]:
    """Stems of the words that carry meaning, in order; of all words where that leaves none. `bare` drops the word for no."""
    found = words_of(text)
    telling = [w for w in found if w not in STOP] or found
    return [s for s in map(stem, telling) if not (bare and s == NOT)]


def _groups() -> dict[str, frozenset[str]]:
    groups: dict[str, set[str]] = {}
    for line in _ALIKE_TEXT.strip().splitlines():
        members = {stem(w) for w in line.split()}
        for member in members:
            groups.setdefault(member, set()).update(members - {member})
    return {word: frozenset(others) for word, others in groups.items()}


ALIKE = _groups()
"""Stem to the stems that may stand for it."""
FAINT = frozenset(stem(word) for word in _FAINT_TEXT.split())
"""Stems of telling when, whose and how it went: they tell little of what was noticed."""
WANTED = frozenset(stem(word) for word in _WANTED_TEXT.split())
"""Stems of what an engine should give: that there is none of it is a complaint, and no good news."""
