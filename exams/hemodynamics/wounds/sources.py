"""Who says so: the sources of the grades of a wound, a foot and a limb, and of what is known of healing.

How well each was confirmed stands with every use of it; titles of what was not opened are from memory.
"""

from __future__ import annotations

from collections.abc import Mapping

PRIMARY = "confirmed in the primary text"
SECONDARY = "confirmed in a secondary source"
MEMORY = "from memory, not confirmed"
OURS = "ours, no published rule found"

WOUND_SOURCES: Mapping[str, str] = {
    "WIFI14": "Mills JL, Conte MS, Armstrong DG, et al. Threatened limb classification (WIfI). "
    "J Vasc Surg 2014;59:220-234.e2; tables as in three independent public reproductions",
    "IWGDFIDSA": "IWGDF/IDSA classification of diabetic foot infection 2012, 2019 and 2023, as reproduced in "
    "PMC6174858 table 1 and PMC7951343 table 1",
    "SINBAD08": "Ince P, et al. The SINBAD classification. Diabetes Care 2008;31:964-967",
    "SCH20": "Schaper NC, et al. IWGDF practical guidelines 2019. Diabetes Metab Res Rev 2020;36(S1):e3266, "
    "table 1",
    "SHEEHAN03": "Sheehan P, et al. Percent change in ulcer area over 4 weeks. "
    "Diabetes Care 2003;26:1879-1882",
    "GVG19": "Conte MS, Bradbury AW, Kolh P, et al. Global vascular guidelines on chronic limb-threatening "
    "ischaemia. J Vasc Surg 2019;69(6S):3S-125S.e40",
    "IWG23": "Fitridge R, Chuter V, Schaper N, et al. Intersocietal IWGDF, ESVS, SVS guideline 2023",
    "BRO16": "Brownrigg JRW, et al. Performance of prognostic markers. Diabetes Metab Res Rev "
    "2016;32(Suppl 1):128-135 (abstract)",
    "FOR20": "Forsythe RO, et al. Performance of prognostic markers, update. Diabetes Metab Res Rev "
    "2020;36(S1):e3278 (abstract)",
    "PMC7602180": "Photo-optical transcutaneous oxygen and healing, n = 103. PMC7602180",
    "NG19": "Pages quoting the referral rules of NICE NG19 (two, independent)",
    "PAGES": "Pages of vascular laboratories, hospitals and textbooks (secondary)",
    "OURS": "Rule of this software, no published rule found; the clinic's medical lead signs it off",
}
