"""The cautions of the screens, each shown where the decision it concerns is made."""

WEIGHT = (
    "Bodies grow at their own pace, and a bigger number on the scale is not a goal in itself. Before a young "
    "athlete sets out to gain or lose weight, talk with a doctor or a dietitian."
)
RATE = (
    "The ceiling is half a per cent of body mass a week unless the program sets its own. It comes from advice for "
    "adults who lift; above it, most of what is added does not help to hit, throw or run."
)
STOP = (
    "Pain, illness, fainting, missed periods, worry about food or an unplanned loss is not a training question: "
    "stop the plan and refer."
)
UNDER_14 = "No weight plan is made for an athlete under 14. Growth is followed on the athlete's own page."
ASSOCIATION = (
    "This shows what goes together, not what caused what. A range that includes zero means we cannot tell."
)
GROWTH = (
    "Growth is read from a published reference of many children (CDC 2000). One child's own course differs from it; "
    "the range holds errors of measurement only. It is no target, and a heavier number is not a goal in itself."
)
MEASUREMENT = (
    "One test is one day. A change inside the grey tape is within what test days differ by when nothing has changed. "
    "The tape is wide on purpose: whoever looks after every test day will see some changes that are luck."
)
PROJECTION = "A projection is a range for one more test day, not a promise."
PAST_PROJECTIONS = (
    "Only those who were tested again can be scored, and athletes of one camp share its days: take a verdict from one "
    "camp as a hint. A reading corrected later counts as it stands today."
)
PEERS = "Compared only with athletes measured here in the same way. It is not a national ranking."
MOVEMENT = "These are observations of a few swings or throws. Many good players move differently."
CAMP = (
    "A gain is what changed over the weeks of a camp: growth, practice, learning the test and training together. "
    "Without athletes who were measured and did not attend it cannot be split."
)
RAW_GAIN = (
    "The plain difference counts only those who were tested at the end, and it carries the luck of the first day. "
    "It is shown to be compared, not to be quoted."
)
