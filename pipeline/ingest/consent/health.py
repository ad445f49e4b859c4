"""Words of health in a text that may leave: a plain list of common ones (common practice, no source).

It catches what people write without thinking; it is no proof that a text says nothing of health, so whoever types
looks too. Words of training and movement stay free: strength, back squat, knee angle, shoulder turn, cut.
"""

from __future__ import annotations

import re
from typing import Final

_PART: Final = (
    "elbow|shoulder|knee|back|hip|arm|wrist|ankle|foot|hand|neck|hamstring|groin|quad|calf|oblique|muscle"
)
_WORDS: Final = (
    # what happened to a body
    r"(?:re-?)?injur\w*", r"fractur\w*", r"sprain\w*", r"concuss\w*", r"dislocat\w*", r"subluxat\w*", r"hernia\w*",
    r"torn", r"ruptur\w*", r"swollen", r"swelling", r"bruis\w*", r"inflam\w*", r"infected", r"infections?",
    r"bleeding", r"pains?", r"painful", r"sore", r"soreness", r"hurts?", r"hurting", r"aches?", r"aching",
    r"numb(?:ness)?", r"limping", r"dehydrat\w*", rf"broken (?:{_PART}|finger|leg|toe|rib|nose|bone|collarbone)s?",
    r"stress reaction", r"growth plates?", r"shin splints?",
    rf"(?:strained|tweaked) (?:\w+ ){{0,2}}(?:{_PART})s?",
    r"(?:pulled|strained|tweaked) (?:\w+ ){0,2}(?:hamstring|groin|quad|calf|oblique|muscle)s?", r"heat ?stroke",
    rf"(?:{_PART}) (?:strain|tear|problem|trouble|issue)s?",
    # parts that are named where something is wrong with them
    r"tendon\w*", r"tendin\w*", r"ligament\w*", r"meniscus", r"labrum", r"labral", r"rotator cuff", r"acl", r"ucl",
    r"mcl", r"impingement", r"arthriti\w*", r"bursitis", r"scolio\w*", r"osgood\w*",
    # conditions
    r"illness\w*", r"sick(?:ness)?", r"diseases?", r"disorders?", r"disabilit\w*", r"syndromes?", r"diagnos\w*",
    r"symptom\w*", r"asthma\w*", r"inhalers?", r"diabet\w*", r"insulin", r"epilep\w*", r"seizures?", r"allerg\w*",
    r"migraines?", r"fever", r"covid\w*", r"influenza", r"flu", r"mononucleosis", r"an[a]?emi\w*", r"thyroid",
    r"cancer", r"tumou?rs?", r"heart (?:condition|problem|murmur|defect)s?", r"blood", r"body ?fat", r"hormon\w*",
    r"pregnan\w*", r"menstru\w*", r"puberty", r"adhd", r"autis\w*", r"dyslexi\w*", r"(?<!scapular )depression",
    r"anxiety", r"panic attacks?", r"suicid\w*", r"self-?harm\w*", r"anorexi\w*", r"bulimi\w*", r"obes\w*",
    r"mental health", r"bipolar", r"(?:over|under)weight(?! (?:\w+ )?(?:ball|bat|baseball|softball|implement)s?\b)",
    # what is done about it
    r"surg(?:er|ic|eon)\w*", r"operated on", r"rehab\w*", r"physio", r"physiotherap\w*", r"therap(?:y|ies|ists?)",
    r"medicat\w*", r"medical (?:condition|histor|clearance|leave|issue|note|report|record|reason|exam)\w*",
    r"prescri\w*", r"antibiotic\w*", r"ibuprofen", r"painkill\w*", r"cortisone", r"steroids?", r"injections?",
    r"mri", r"x-?rays?", r"ct scans?", r"ultrasound", r"hospitals?", r"hospitali[sz]\w*",
    r"doctor'?s (?:note|order|visit)s?", r"(?:by|see|sees|saw|seeing) (?:an? |the )?(?:doctor|physician)s?",
    r"psychologists?", r"psychiatr\w*", r"orthop\w*", r"crutches", r"(?:knee|ankle|wrist|elbow) brace",
    r"in an? (?:cast|sling|boot)",
)  # fmt: skip
_HEALTH: Final = re.compile(rf"\b(?:{'|'.join(_WORDS)})\b", re.IGNORECASE)


def word_of_health(text: str) -> str:
    """The first word of health in a text, as written; '' where there is none.

    >>> word_of_health("Back in July after knee surgery"), word_of_health("Strength: back squat, knee angle at landing")
    ('surgery', '')
    """
    match = _HEALTH.search(text)
    return match.group(0) if match else ""
