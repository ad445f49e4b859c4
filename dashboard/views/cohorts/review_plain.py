"""The camp review at first sight in a coach's words; the exact sentences stand a tap below; pure."""

from __future__ import annotations

from latewood.pipeline.pages.camp.model import CampReview, Gain
from latewood.pipeline.pages.camp.sentences import scale_of_gain
from latewood.pipeline.pages.words import count, step_of

KEY = (
    "Diamond: what all who were measured gained, with its range. Ring: the same, drawn towards the other camps. Cross: "
    "last test less first. Upright line: no change."
)
PARTS_KEY = (
    "A dot is one athlete's change, × one who left early. The diamond is the mean of eight or more. Parts are shown, "
    "not compared."
)
NOT_MASS = " is not what added mass does, so it is struck out. Time, practice and growth went along."


def plain_sentences(review: CampReview) -> tuple[str, ...]:
    """What the camp gained in its leading measure, what that is, and whether camps can be told apart."""
    lead = lead_of(review)
    if lead is None:
        return (
            "Too few athletes were measured alike for a group number. Single athletes are shown instead.",
        )
    return (
        f"{lead.label}: {_gained(lead)} in {lead.weeks or 0:.0f} weeks. "
        f"{lead.measured} of {count(lead.enrolled, 'athlete')} were measured.",
        "That is what changed. It is not what the camp brought about: growth, practice, learning the test and a "
        "device that drifts all count in it.",
        _others(lead),
    )


def lead_of(review: CampReview) -> Gain | None:
    """The gain that the sentences and the first part are about; None where no group number can be given."""
    if not review.groups:
        return None
    first = review.groups[0]
    return next((one for one in review.gains if (one.key, one.line) == (first.key, first.line)), None)


def _gained(one: Gain) -> str:
    step = step_of(scale_of_gain(one), one.better)
    low, high = one.low or 0.0, one.high or 0.0
    words = f"{step.words(one.gain or 0.0)} on average ({step.span(low, high)})"
    return f"{words}, which may be no change," if low <= 0.0 <= high else words


def _others(one: Gain) -> str:
    if one.camps_differ is None:
        return "No other camp was measured in the same way, so none stands beside it."
    if one.camps_differ:
        return "Some camps differ here. Who came and for how long differed too, so that is no verdict on any of them."
    return "The camps cannot be told apart here, so a larger number is not a better camp."


def plain_singles(one: Gain) -> str:
    """How the single athletes came out."""
    judged = one.clear_gain + one.unclear + one.clear_loss
    if not judged:
        return "Single athletes: too few test days"
    said = [f"{one.clear_gain} of {judged} athletes clearly better"]
    if one.clear_loss:
        said.append(f"{one.clear_loss} clearly worse")
    return ", ".join(said)


def not_grouped(review: CampReview) -> int:
    """In how many measures no group number is given."""
    return sum(one.gain is None for one in review.gains)
