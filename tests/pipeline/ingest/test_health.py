"""Words of health are seen wherever a text may leave, and words of training are not taken for them."""

from __future__ import annotations

import pytest

from latewood.pipeline.ingest.consent.health import word_of_health

OF_HEALTH = (
    "Out with a sprained ankle", "Knee surgery in May", "pulled his left hamstring", "labral repair",
    "UCL rehab in week 3",
    "elbow pain after pitching", "sore shoulder", "back problems since spring", "on antibiotics",
    "saw a physician on Monday",
    "cleared by the doctor", "a doctor's note is on file", "takes medication", "medical leave",
    "type 1 diabetes", "asthmatic",
    "peanut allergy", "ADHD", "anxiety before games", "eating disorder", "concussion protocol",
    "broken wrist", "MRI on Friday",
    "in a boot until June", "is overweight", "anemic", "tendinitis", "growth plate", "torn ACL",
    "has migraines", "hospitalised",
    "mental health day", "physio twice a week", "it hurts", "injured in camp", "shin splints", "covid",
    "flu", "in a sling",
)  # fmt: skip
OF_TRAINING = (
    "Strength: back squat, 3 sets", "Knee angle at landing", "Hip-shoulder separation",
    "Shoulder turn before the stride",
    "Cut the stride short", "Overweight ball throws once a week", "underweight bat swings",
    "Arm speed, not arm angle",
    "Four-seam grip, feel the stitches", "Plans to read mathematics and sports medicine", "Oak Hollow High",
    "Medical Lake High",
    "Psychology and physiology", "Paint the outside corner", "Head still, eyes on the ball", "Back in July",
    "Hurtado, coach",
    "Hospitality management", "School counselor: Ms Fen", "Land with a firm front leg",
    "Recovery day between sessions",
    "Summer pitching clinic", "Drop the back elbow later", "Broken-bat singles", "Run through the bag",
    "Stress the finish",
    "Arthur Reed, Band director", "Paine Hollow", "scapular depression at set-up",
    "Trap-bar deadlift to 150 kg",
    "Breathe before each swing", "Rotate around the front hip", "Wrist snap",
    "Elbow pulled back at set-up", "Foot strike under the body",
    "Bring a boot bag",
)  # fmt: skip


@pytest.mark.parametrize("text", OF_HEALTH)
def test_a_word_of_health_is_seen(text: str) -> None:
    assert word_of_health(text)
    assert word_of_health(text.upper())


def test_words_of_training_school_and_names_are_free() -> None:
    assert {text: word_of_health(text) for text in OF_TRAINING if word_of_health(text)} == {}
