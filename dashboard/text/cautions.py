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
OWN_RATE = (
    "Only mass off an athlete's own steady course counts here: those who gain faster and improve faster for another "
    "reason lend it nothing. Training that moves mass and output in the same weeks cannot be separated from mass; plan "
    "starts drawn by lot can."
)
DRAWN_STARTS = (
    "The lot decided who began when, so time, growth and practice stand aside. Whatever else came with an earlier "
    "plan, such as food, sleep or attention, is still in the number. A bigger number on the scale is "
    "not a goal in itself."
)
BODY_SIZE = (
    "Load over body mass to the power 2/3, which is how lifted loads grow with size in adults. It describes; a lighter "
    "body is no way to a better number, and nobody is ranked by it."
)
GROWTH = (
    "Growth is read from a published reference of many children (CDC 2000). One child's own course differs from it; "
    "the range holds errors of measurement only. It is no target, and a heavier number is not a goal in itself."
)
TARGET = (
    "A target is read by the athlete and the family. One test is one day: whether it was reached is judged with the "
    "error of the test."
)
MEASUREMENT = (
    "One test is one day. A change inside the grey tape may be nothing: test days differ by that much anyway. "
    "The tape is wide because a look after every test day finds some luck."
)
PROJECTION = "A projection is a range for one more test day, not a promise."
PAST_PROJECTIONS = (
    "Only those who were tested again can be scored, and athletes of one camp share its days: take a verdict from one "
    "camp as a hint. A reading corrected later counts as it stands today."
)
PEERS = "Compared only with athletes measured here in the same way. It is not a national ranking."
PUBLISHED = (
    "Middle values of the groups that were studied, each with its source. They are no targets, least of all for "
    "anyone still growing; bodies and ways of measuring differ."
)
MOVEMENT = "These are observations of a few swings or throws. Many good players move differently."
CAMP = (
    "A gain is what changed over the weeks of a camp: growth, practice, learning the test, training, and any drift of "
    "the device, together. "
    "Without athletes who were measured and did not attend it cannot be split."
)
RAW_GAIN = (
    "The plain difference counts only those who were tested at the end, and it carries the luck of the first day. "
    "It is shown to be compared, not to be quoted."
)
STAGE = (
    "Growth stage comes from published equations for 8 to 16 years: classes are uncertain by about a year, late for "
    "those who grow early and early for those who grow late. Neither standing says how a young athlete will end."
)
CAMPS_APART = (
    "Camps differ in their athletes, season, staff and days: a difference between camps does not say what made it. "
    "Camps that cannot be separated have no order."
)
ENERGY = (
    "Energy is a range and no instruction: a dietitian and a physician decide. For an athlete under 18 it is for their "
    "talk with the guardian only; nobody under 18 is told to eat less."
)
PRIVATE = "Weigh in one at a time, in a private place; do not read numbers aloud and do not compare athletes by mass."
DECIDE = "Write nothing medical here. A referral says that one was made, not why."
PRIVACY = (
    "A sheet holds only what was agreed to for this athlete, and is noted in the register when it is issued. Nothing "
    "is sent from here: whom a saved file goes to is the program's decision."
)
CALLED_BACK = (
    "Consent can be withdrawn at any time, and then no new sheet is made. A file that was already sent cannot be "
    "called back. Say so before the form is signed."
)
STATED = (
    "Each line has a consent of its own and an end, and is marked as stated by the family and not checked here. "
    "Nothing of health, and no school e-mail of an athlete under 18: give the guardian's contact. A film may show more "
    "than was agreed to: look at it first."
)
