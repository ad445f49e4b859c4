"""Keys of the measures that code must know by name; everything else follows the catalogue."""

from typing import Final

BODY_MASS: Final = "body_mass"
STANDING_HEIGHT: Final = "standing_height"
SITTING_HEIGHT: Final = "sitting_height"
WINGSPAN: Final = "wingspan"
BODY_FAT_SKINFOLD: Final = "body_fat_skinfold"

TRAP_BAR_DEADLIFT: Final = "trap_bar_deadlift"
SQUAT: Final = "squat"
BENCH_PRESS: Final = "bench_press"
GRIP_STRENGTH: Final = "grip_strength"

COUNTERMOVEMENT_JUMP: Final = "countermovement_jump"
BROAD_JUMP: Final = "broad_jump"
MEDICINE_BALL_THROW: Final = "medicine_ball_throw"

SPRINT_10YD: Final = "sprint_10yd"
SPRINT_30YD: Final = "sprint_30yd"
SPRINT_60YD: Final = "sprint_60yd"
HOME_TO_FIRST: Final = "home_to_first"
SPLITS: Final = (SPRINT_10YD, SPRINT_30YD, SPRINT_60YD)  # each runs through the one before

EXIT_SPEED: Final = "exit_speed"
BAT_SPEED: Final = "bat_speed"
PITCH_SPEED: Final = "pitch_speed"
WINDMILL_PITCH_SPEED: Final = "windmill_pitch_speed"
THROW_SPEED: Final = "throw_speed"
POP_TIME: Final = "pop_time"

HIP_SHOULDER_SEPARATION: Final = "hip_shoulder_separation"
PELVIS_PEAK_SPEED: Final = "pelvis_peak_speed"
TORSO_PEAK_SPEED: Final = "torso_peak_speed"
PEAK_SPEEDS: Final = (
    PELVIS_PEAK_SPEED,
    TORSO_PEAK_SPEED,
    "lead_arm_peak_speed",
    "upper_arm_peak_speed",
    "forearm_peak_speed",
    "hand_peak_speed",
    "bat_peak_speed",
)
PEAK_TIMES: Final = tuple(key.replace("_speed", "_time") for key in PEAK_SPEEDS)
