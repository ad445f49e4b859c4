"""Keys of the measures that code must know by name; everything else follows the catalogue."""

from typing import Final

BODY_MASS: Final = "body_mass"
STANDING_HEIGHT: Final = "standing_height"
SITTING_HEIGHT: Final = "sitting_height"

TRAP_BAR_DEADLIFT: Final = "trap_bar_deadlift"

SPRINT_10YD: Final = "sprint_10yd"
SPRINT_30YD: Final = "sprint_30yd"
SPRINT_60YD: Final = "sprint_60yd"
HOME_TO_FIRST: Final = "home_to_first"

EXIT_SPEED: Final = "exit_speed"
BAT_SPEED: Final = "bat_speed"
PITCH_SPEED: Final = "pitch_speed"
WINDMILL_PITCH_SPEED: Final = "windmill_pitch_speed"
THROW_SPEED: Final = "throw_speed"
POP_TIME: Final = "pop_time"

HIP_SHOULDER_SEPARATION: Final = "hip_shoulder_separation"
STRIDE_LENGTH: Final = "stride_length"
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
