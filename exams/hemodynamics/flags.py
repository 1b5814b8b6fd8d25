"""Every flag of a limb, in the fixed order in which they are listed, with the finding each belongs to."""

# Order: what somebody must be told; absent flow; arms; what the numbers rest on; conditions.
FLAG_MEASURES = {
    "POSSIBLE_ACUTE_ISCHAEMIA": "urgency",
    "INFECTION_WITH_ARTERIAL_DISEASE": "urgency",
    "URGENT_VASCULAR": "urgency",
    "SEVERE_ISCHAEMIA": "urgency",
    "TOE_LT_50_WITH_WOUND": "toe_pressure",
    "ANKLE_LT_70_WITH_WOUND": "ankle_pressure",
    "ABSENT_SIGNAL_DP": "ankle_pressure",
    "ABSENT_SIGNAL_PT": "ankle_pressure",
    "TOE_BELOW_DETECTION": "toe_pressure",
    "TOE_NOT_OCCLUDABLE": "toe_pressure",
    "NO_BRACHIAL": "arm_used",
    "SINGLE_ARM": "arm_used",
    "IAD_20": "arm_difference",
    "IAD_15": "arm_difference",
    "IAD_10": "arm_difference",
    "ONE_ARTERY": "ankle_pressure",
    "PERONEAL": "ankle_pressure",
    "MIXED": "ankle_pressure",
    "LOWER_BOUND": "ankle_pressure",
    "LOW_ANKLE_ABNORMAL": "ankle_brachial_index",
    "BOUNDARY": "ankle_pressure",
    "TOE_55": "toe_pressure",
    "GRADIENT_HIGH": "ankle_toe_gradient",
    "GRADIENT_NOT_INTERPRETABLE": "ankle_toe_gradient",
    "REPEATS_APART": "",
}
FLAGS = tuple(FLAG_MEASURES)

# Raised only by interpret(), which knows the conditions of one exam.
CONDITION_FLAGS = (
    "COLD_TOE",
    "WARM_AND_REPEAT",
    "TEMP_NOT_RECORDED",
    "PROVISIONAL",
    "HEIGHT_CORRECTED",
    "HEIGHT_NOT_RECORDED",
    "NOT_FLAT",
    "REST_UNDER_10",
    "REST_UNDER_5",
    "REST_NOT_RECORDED",
    "REST_TYPED",
    "ROOM_COLD",
    "TOBACCO",
    "CAFFEINE",
    "NOT_MEASURED",
)
